//! Conditions that every sheet must meet, checked from the positions of what is drawn: no overlaps, nothing off the
//! page, no note without its tab.

use breathline::{
    search::Approach,
    sheet::{
        Page, Sheet,
        draw::{Bounds, Ink, Item, Owner, Role},
    },
};

/// The largest overlap that is too small to see: a fifth of a millimetre at the normal size.
const TOLERANCE: i32 = 28;

/// Returns the faults of a sheet, one per line.
pub fn faults(sheet: &Sheet, approach: &Approach) -> Vec<String> {
    let mut faults = faults_of_places(sheet);
    faults.extend(without_tab(sheet, approach));
    faults
}

/// Returns only the faults of position, for a sheet without a staff.
pub fn faults_of_places(sheet: &Sheet) -> Vec<String> {
    let mut faults = Vec::new();
    for (number, page) in sheet.pages.iter().enumerate() {
        let on_page = |fault: String| format!("page {}: {fault}", number + 1);
        faults.extend(overlaps(page).into_iter().chain(outside(page)).map(on_page));
    }
    faults
}

/// The ways in which items on a page may meet.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// Heads, accidentals, dots, rests, signs, texts and houses: they must not touch each other.
    Solid,
    /// Stems, barlines and other lines: texts, houses and signs must keep clear of them.
    Thin,
    /// Beams and ties: texts, houses and signs must keep clear of them too.
    Slanted,
    /// The staff and shades: every item may lie on them.
    Ground,
}

fn kind(item: &Item) -> Kind {
    match (item.role, &item.ink) {
        (Role::Staff | Role::Shade, _) => Kind::Ground,
        // The cells of the chart are lines around their content.
        (Role::Chart, Ink::Line(..)) => Kind::Ground,
        (_, Ink::Line(..)) => Kind::Thin,
        (Role::Span, Ink::Polygon(_) | Ink::Tie(..)) => Kind::Slanted,
        _ => Kind::Solid,
    }
}

fn is_outer(item: &Item) -> bool {
    matches!(item.ink, Ink::Text(_))
        || matches!(item.role, Role::BlowShape | Role::DrawShape | Role::Missing | Role::Sign)
}

/// Returns the extents of an item; a slanted item is cut into slices, each with its own height.
fn extents(item: &Item) -> Vec<Bounds> {
    match &item.ink {
        Ink::Polygon(points) if item.role == Role::Span && points.len() == 4 => {
            let (left, right) = (points[0], points[1]);
            let thick = points[3].1 - points[0].1;
            (0..8)
                .map(|slice| {
                    let at = |n: i32| {
                        let x = left.0 + (right.0 - left.0) * n / 8;
                        (x, left.1 + (right.1 - left.1) * n / 8)
                    };
                    let (from, to) = (at(slice), at(slice + 1));
                    let edge = Bounds::new(from.0, from.1, to.0, to.1);
                    edge.around(Bounds::new(from.0, from.1 + thick, to.0, to.1 + thick))
                })
                .collect()
        }
        Ink::Tie([x1, y1, x2, y2], height) => (0..8)
            .map(|slice| {
                // A cubic curve with both handles at the given height.
                let at = |n: i32| {
                    let swell = 4 * n * (8 - n) * height / 64;
                    (x1 + (x2 - x1) * n / 8, y1 + (y2 - y1) * n / 8 + swell)
                };
                let (from, to) = (at(slice), at(slice + 1));
                Bounds::new(from.0, from.1, to.0, to.1)
            })
            .collect(),
        _ => vec![item.bounds],
    }
}

fn overlaps(page: &Page) -> Vec<String> {
    let mut items: Vec<(usize, Owner, &Item)> = Vec::new();
    for (index, group) in page.groups.iter().enumerate() {
        group.walk(&mut |owner, item| items.push((index, owner, item)));
    }
    let mut boxes: Vec<(usize, Kind, Bounds)> = Vec::new();
    for (index, (_, _, item)) in items.iter().enumerate() {
        boxes.extend(extents(item).into_iter().map(|bounds| (index, kind(item), bounds)));
    }
    boxes.retain(|(_, kind, _)| *kind != Kind::Ground);
    boxes.sort_by_key(|(index, _, bounds)| (bounds.left, *index));
    let mut faults = Vec::new();
    for (first, (a, kind_a, bounds_a)) in boxes.iter().enumerate() {
        for (b, kind_b, bounds_b) in &boxes[first + 1..] {
            if bounds_b.left >= bounds_a.right {
                break;
            }
            if a == b || !bounds_a.overlaps(*bounds_b, TOLERANCE) {
                continue;
            }
            let ((_, owner_a, item_a), (_, owner_b, item_b)) = (items[*a], items[*b]);
            if may_meet((owner_a, item_a, *kind_a), (owner_b, item_b, *kind_b)) {
                continue;
            }
            faults.push(format!("{} and {} lie on each other", told(owner_a, item_a), told(owner_b, item_b)));
        }
    }
    faults.sort();
    faults.dedup();
    faults
}

fn may_meet(a: (Owner, &Item, Kind), b: (Owner, &Item, Kind)) -> bool {
    let thin = |kind: Kind| matches!(kind, Kind::Thin | Kind::Slanted);
    if thin(a.2) && thin(b.2) {
        return true;
    }
    // Stems, beams and ties may reach to and between heads and dots. Texts, houses and signs keep clear of them, and
    // the stem of a note keeps clear of the items of other notes.
    if thin(a.2) || thin(b.2) {
        let (thin, solid) = if thin(a.2) { (a, b) } else { (b, a) };
        let stem = thin.1.role == Role::Note && matches!(thin.1.ink, Ink::Line(..));
        return !is_outer(solid.1) && (!stem || thin.0 == solid.0);
    }
    let same = a.0 == b.0;
    let house = |item: &Item| matches!(item.role, Role::BlowShape | Role::DrawShape | Role::Missing);
    let figures = |item: &Item| matches!(item.role, Role::Blow | Role::Draw | Role::Missing);
    // Figures lie inside their house, a flag touches its stem, and the parts of a number touch each other.
    let in_house = (house(a.1) && figures(b.1)) || (house(b.1) && figures(a.1));
    // Houses and figures may also lie inside a frame.
    let frame = |item: &Item| item.role == Role::Frame;
    let in_frame =
        (frame(a.1) && (house(b.1) || figures(b.1))) || (frame(b.1) && (house(a.1) || figures(a.1)));
    let flag = |item: &Item| matches!(&item.ink, Ink::Glyph(glyph, ..) if glyph.name().starts_with("flag"));
    let digits = |item: &Item| matches!(&item.ink, Ink::Glyph(glyph, ..) if glyph.name().starts_with("t"));
    same && (in_house || in_frame || flag(a.1) || flag(b.1) || (digits(a.1) && digits(b.1)))
}

fn told(owner: Owner, item: &Item) -> String {
    let what = match &item.ink {
        Ink::Glyph(glyph, ..) => glyph.name().to_owned(),
        Ink::Text(text) => format!("{:?}", text.text),
        Ink::Line(..) => "a line".to_owned(),
        Ink::Dashed => "a dashed house".to_owned(),
        Ink::Framed => "a frame".to_owned(),
        Ink::Polygon(_) => format!("{:?}", item.role),
        Ink::Tie(..) => "a tie".to_owned(),
    };
    let Bounds { left, top, .. } = item.bounds;
    format!("{what} of {owner:?} at {left}, {top}")
}

/// Returns the items that are off the page, or nearer to its edge than 1000 units (7 mm at the normal size) or, if this
/// is less, a twentieth of the page's width.
fn outside(page: &Page) -> Vec<String> {
    let edge = 1000.min(page.width / 20);
    let inside = Bounds { left: edge, top: edge, right: page.width - edge, bottom: page.height - edge };
    let mut faults = Vec::new();
    for group in &page.groups {
        group.walk(&mut |owner, item| {
            if !inside.contains(item.bounds) {
                faults.push(format!("{} is off the page", told(owner, item)));
            }
        });
    }
    faults
}

/// Returns the notes, sounded or missing, that lack their head or their tab.
fn without_tab(sheet: &Sheet, approach: &Approach) -> Vec<String> {
    let mut seen: Vec<(bool, bool)> = vec![(false, false); approach.playing.notes.len()];
    for group in sheet.pages.iter().flat_map(|page| &page.groups) {
        group.walk(&mut |owner, item| {
            let Owner::Note(note) = owner else { return };
            let head = matches!(&item.ink, Ink::Glyph(glyph, ..) if glyph.name().starts_with("head"));
            let tab = matches!(item.role, Role::BlowShape | Role::DrawShape | Role::Missing);
            seen[note] = (seen[note].0 || head, seen[note].1 || tab);
        });
    }
    let silent = |note: usize| approach.is_changed(note) && approach.playing.notes[note].action.is_none();
    let lacking = seen.iter().enumerate().filter(|(note, seen)| **seen != (true, true) && !silent(*note));
    lacking.map(|(note, (head, tab))| format!("note {note}: head {head}, tab {tab}")).collect()
}
