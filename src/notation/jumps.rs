//! The words at the end of a bar that send a player to another place or end the tune.

use crate::melody::{self, BarMarks};

/// Returns the words over the end of a bar that send a player to another place or end the tune: "To Coda", "Fine",
/// "D.S. al Coda".
pub fn jumps(bars: &[melody::Bar], index: usize) -> Vec<&'static str> {
    let Some(BarMarks { to_coda, fine, da_capo, dal_segno, .. }) = bars.get(index).map(|bar| &bar.marks)
    else {
        return Vec::new();
    };
    let sign = || bars[..=index].iter().rposition(|bar| bar.marks.segno).unwrap_or(0);
    // The first "To Coda" or "Fine" between the target of the jump and this bar determines the word after "al".
    let how_far = |from: usize| {
        let on_the_way = bars[from..=index].iter().map(|bar| &bar.marks);
        let mut ends = on_the_way.filter(|marks| marks.to_coda || marks.fine);
        ends.next().map(|marks| marks.to_coda)
    };
    let capo = || match how_far(0) {
        Some(true) => "D.C. al Coda",
        Some(false) => "D.C. al Fine",
        None => "D.C.",
    };
    let segno = || match how_far(sign()) {
        Some(true) => "D.S. al Coda",
        Some(false) => "D.S. al Fine",
        None => "D.S.",
    };
    let words =
        [to_coda.then_some("To Coda"), fine.then_some("Fine"), da_capo.then(capo), dal_segno.then(segno)];
    words.into_iter().flatten().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::{Beats, Meter};

    #[test]
    fn a_jump_says_how_far_it_goes() {
        let bars = |marks: &[(usize, &str)]| {
            let mut bars: Vec<melody::Bar> = (0..6)
                .map(|bar| melody::Bar::full(bar + 1, Beats::quarters(4 * bar as i32), Meter::COMMON))
                .collect();
            for (bar, mark) in marks {
                let marks = &mut bars[*bar].marks;
                match *mark {
                    "segno" => marks.segno = true,
                    "to coda" => marks.to_coda = true,
                    "fine" => marks.fine = true,
                    "da capo" => marks.da_capo = true,
                    _ => marks.dal_segno = true,
                }
            }
            bars
        };
        let words = |marks: &[(usize, &str)], bar| jumps(&bars(marks), bar);
        assert_eq!(words(&[(1, "fine"), (3, "da capo")], 3), ["D.C. al Fine"]);
        assert_eq!(words(&[(3, "da capo")], 3), ["D.C."]);
        assert_eq!(
            words(&[(0, "segno"), (2, "to coda"), (3, "dal segno"), (5, "fine")], 3),
            ["D.S. al Coda"]
        );
        assert_eq!(
            words(&[(0, "fine"), (1, "segno"), (2, "to coda"), (3, "dal segno")], 3),
            ["D.S. al Coda"]
        );
        assert_eq!(words(&[(0, "fine"), (1, "segno"), (3, "dal segno")], 3), ["D.S."]);
        assert_eq!(words(&[(2, "to coda"), (3, "dal segno")], 2), ["To Coda"]);
    }
}
