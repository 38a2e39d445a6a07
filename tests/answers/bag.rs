//! The commands `bag` and `set`: which harps to own, and which to bring.

use std::fs;

use serde_json::Value;

use crate::harness::{breathline, scratch};

fn json(command: &str) -> Value {
    serde_json::from_str(&breathline(&format!("{command} --json")).answers()).unwrap()
}

fn names(bag: &Value) -> Vec<String> {
    let harps = bag["harps"].as_array().unwrap().iter();
    harps.map(|harp| harp.as_str().unwrap().replace(' ', "-")).collect()
}

#[test]
fn a_bag_counts_the_tunes_that_its_harps_play_well() {
    let all = json("bag corpus");
    let bags = all["bags"].as_array().unwrap();
    let playable = all["tunes"].as_u64().unwrap() - all["unplayable"].as_array().unwrap().len() as u64;
    assert_eq!(bags.last().unwrap()["tunes_total"], playable);
    for (size, bag) in (1..).zip(bags) {
        let harps = names(bag);
        assert_eq!(harps.len(), size);
        // A question about these harps alone gives the number of tunes that they play.
        let own = json(&format!("bag corpus --have {0} --harps {0}", harps.join(",")));
        assert_eq!(own["owned_tunes"], bag["tunes_total"], "{bag}");
        assert_eq!(own["bags"], Value::Array(Vec::new()), "nothing is left to buy");
    }
}

#[test]
fn a_tune_is_played_well_up_to_a_named_effort_and_without_bends_if_asked() {
    // An improver bends a few notes of Adeste Fideles on a G harp, at 27 points per note.
    let counted = |options: &str| {
        json(&format!("bag corpus/adeste-fideles.mid --harps G {options}"))["bags"].as_array().unwrap().len()
    };
    assert_eq!((counted("--effort 28"), counted("--effort 26"), counted("--bends none")), (1, 0, 1));
    let page = breathline("bag corpus/adeste-fideles.mid --harps G --effort 26").answers();
    assert!(
        page.contains("Adeste Fideles: takes 27 points of effort a note on the easiest harp, G"),
        "{page}"
    );
}

#[test]
fn a_price_is_that_of_all_harps_of_a_bag() {
    let page = breathline("bag corpus --most 2 --price 40").answers();
    let prices: Vec<&str> = page.lines().filter_map(|line| line.split_whitespace().last()).collect();
    assert!(prices.contains(&"price") && prices.contains(&"40") && prices.contains(&"80"), "{page}");
}

/// A bag is listed if no other bag of the same or a lower price plays as many tunes. The test asks about every bag of at
/// most two of five harps.
#[test]
fn with_prices_of_their_own_harps_are_the_best_for_their_money() {
    let folder = scratch();
    let prices = folder.join("prices.toml");
    fs::write(&prices, "every = 40\nlow = 55\nG = 70\nD = 39\nlow-F = 20\n").unwrap();
    let price = |harp: &str| match harp {
        "G" => 70,
        "D" => 39,
        "low-F" => 20,
        _ if harp.starts_with("low") => 55,
        _ => 40,
    };
    let names = ["G", "C", "D", "F", "low-F"];
    let mut expected = Vec::new();
    for first in 0..names.len() {
        for second in first..names.len() {
            let have =
                names[first..=second].iter().filter(|name| [names[first], names[second]].contains(name));
            let have: Vec<&str> = have.copied().collect();
            let owned = json(&format!("bag corpus --have {0} --harps {0}", have.join(",")));
            let cost: u64 = have.iter().map(|harp| price(harp)).sum();
            expected.push((cost, std::cmp::Reverse(owned["owned_tunes"].as_u64().unwrap())));
        }
    }
    expected.sort_unstable();
    let mut most = 0;
    expected.retain(|&(_, std::cmp::Reverse(tunes))| {
        let is_better = tunes > most;
        most = most.max(tunes);
        is_better
    });
    let command = format!("bag corpus --most 2 --harps {} --price {}", names.join(","), prices.display());
    let found = json(&command);
    let bags = found["bags"].as_array().unwrap().iter();
    let bags = bags
        .map(|bag| (bag["price"].as_u64().unwrap(), std::cmp::Reverse(bag["tunes_total"].as_u64().unwrap())));
    assert_eq!(bags.collect::<Vec<_>>(), expected);
    assert!(expected.len() > 3, "{expected:?}");
    let page = breathline(&command).answers();
    for (price, std::cmp::Reverse(tunes)) in expected {
        let is_row = |line: &str| {
            let words: Vec<&str> = line.split_whitespace().collect();
            matches!(words.as_slice(), [.., plays, _, costs] if *plays == tunes.to_string() && *costs == price.to_string())
        };
        assert!(page.lines().any(is_row), "{tunes} for {price}: {page}");
    }
    fs::remove_dir_all(folder).unwrap();
}

#[test]
fn an_error_in_a_price_names_the_line_or_the_harp() {
    let folder = scratch();
    let prices = folder.join("prices.toml");
    let error = |text: &str| {
        fs::write(&prices, text).unwrap();
        breathline("bag corpus/clementine.mid --price").arg(&prices).fails()
    };
    assert!(
        error("C = 40\nX = 3\n").contains("prices.toml: line 2: `X` is not a harp; write a harp, as in C")
    );
    assert!(
        error("C = 40\nlow = 4.5\n").contains("line 2: found the number 4.5; write a whole number from 1 up")
    );
    assert!(error("C = 40\n").contains("no price for the G harp; add every = 40"));
    let error = |price: &str| breathline(&format!("bag corpus/clementine.mid --price {price}")).fails();
    assert!(error("0").contains("--price 0: write a whole number from 1 up, or name a file"));
    assert!(error("none.toml").contains("none.toml: there is no such file"));
    fs::remove_dir_all(folder).unwrap();
}

const SET: &str =
    "set corpus/clementine.mid corpus/greensleeves.mid corpus/drunken-sailor.mid corpus/auld-lang-syne.mid";

#[test]
fn without_a_price_each_tune_has_its_best_harp_and_with_a_high_one_all_have_the_same() {
    let free = json(&format!("{SET} --change 0"));
    for tune in free["tunes"].as_array().unwrap() {
        let best = json(&format!("suggest {}", tune["file"].as_str().unwrap()));
        let best = &best["approaches"][0];
        assert_eq!(tune["effort"], best["effort"]["total"]);
        assert_eq!(tune["position"], best["position"]);
    }
    let dear = json(&format!("{SET} --change 1000000"));
    assert_eq!((&dear["changes"], dear["pack"].as_array().unwrap().len()), (&Value::from(0), 1));
    assert!(dear["effort"].as_u64() > free["effort"].as_u64());
}

#[test]
fn the_page_of_a_set_says_what_to_pack_and_where_to_change() {
    let page = breathline(SET).answers();
    assert!(page.starts_with("Pack F, C and Bb; the harp changes twice\n"), "{page}");
    assert!(page.contains("take C"), "{page}");
    let one = breathline("set corpus/clementine.mid --harps F").answers();
    assert!(one.starts_with("Pack F; the harp stays the same"), "{one}");
    assert!(breathline("set corpus").fails().contains("this is a folder"));
}

#[test]
fn the_page_for_the_music_stand_has_the_tunes_in_order_with_their_harps_and_changes() {
    let folder = scratch();
    let path = folder.join("evening.html");
    let text = breathline(SET).answers();
    assert_eq!(breathline(&format!("{SET} -o")).arg(&path).answers(), text, "the answer stays");
    let page = fs::read_to_string(&path).unwrap();
    let set = json(SET);
    let mut rest = page.as_str();
    for (number, tune) in (1..).zip(set["tunes"].as_array().unwrap()) {
        let [harp, title] = ["harp", "title"].map(|field| tune[field].as_str().unwrap());
        let row = format!(
            "<td class=\"take\">{harp}</td><td class=\"rank\">{number}</td><td class=\"title\">{title}</td>"
        );
        let (before, after) = rest.split_once(&row).unwrap_or_else(|| panic!("{row} is not in {rest}"));
        assert_eq!(before.contains(&format!("Take {harp}")), tune["change"] == true, "{row}");
        rest = after;
    }
    assert!(page.contains("<p>Pack F, C and Bb; the harp changes twice</p>"));
    assert!(page.contains("script-src &#39;none&#39;") && !page.contains("<script"), "no script runs in it");
    assert!(page.contains("Greensleeves lacks two notes on the C harp."));
    assert!(page.contains(":root { --set-tunes: 4; --set-changes: 2; --set-remarks: 1;"));
    fs::remove_dir_all(folder).unwrap();
}

#[test]
fn the_page_for_the_music_stand_says_how_long_a_change_may_take_and_what_is_played_elsewhere() {
    let folder = scratch();
    let path = folder.join("set.html");
    // The first tune ends with a second of rest. The second tune is in G, and its title contains HTML.
    let tunes = "X:1\nT:First\nL:1/4\nQ:1/4=60\nM:4/4\nK:C\nCEGc|GEC z|\n\nX:2\nT:<b>Second</b>\nL:1/4\nM:4/4\nK:G\nGBdg|dBG2|\n";
    fs::write(folder.join("tunes.abc"), tunes).unwrap();
    let run = |harps: &str, path: &std::path::Path| {
        let set = format!("set --change 0 --harps {harps} -o {}", path.display());
        breathline(&set).arg(folder.join("tunes.abc")).answers();
        fs::read_to_string(path).unwrap()
    };
    let page = run("C,G", &path);
    assert!(page.contains("Take G, in 1.0 s"), "{page}");
    assert!(page.contains("&lt;b&gt;Second&lt;/b&gt;") && !page.contains("<b>Second"));
    let page = run("C --any-key", &path);
    assert!(page.contains("Transposed from their own keys: &lt;b&gt;Second&lt;/b&gt; (G major)."), "{page}");
    assert!(!page.contains("class=\"change\""));
    fs::write(&path, "mine").unwrap();
    let mine = breathline("set corpus/clementine.mid -o").arg(&path).fails();
    assert!(mine.contains("breathline did not write it"), "{mine}");
    breathline("set corpus/clementine.mid --force -o").arg(&path).answers();
    let pdf = breathline("set corpus/clementine.mid -o").arg(folder.join("set.pdf")).fails();
    assert!(
        pdf.contains("set.pdf: the page of a set is for a browser; name a file that ends in .html"),
        "{pdf}"
    );
    fs::remove_dir_all(folder).unwrap();
}

#[test]
fn a_set_says_which_tunes_lack_notes_on_their_harps() {
    let line = "Nets on the Railing lacks twelve notes on the G harp.";
    let said =
        |harp: &str| breathline(&format!("set demo/nets-on-the-railing.musicxml --harps {harp}")).answers();
    assert!(said("G").contains(line), "{}", said("G"));
    assert!(!said("D").contains("lacks"), "{}", said("D"));
}
