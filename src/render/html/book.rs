//! The page of a book: a table that the reader can search and sort, and whose rows open the tab of their tune.
//!
//! The table is plain HTML. The tabs are in the data of the page's script, so a page of thousands of tunes stays quick.

use super::{blocks, document, element, escape};
use crate::{json, pages::Page};

const SCRIPT: &str = include_str!("book.js");

/// Draws the page of a book from its blocks and the tabs of its rows, in the order of the rows.
pub fn book(title: &str, page: &Page, tabs: &[String]) -> String {
    let search = "<p id=\"search\" hidden><label>Search <input type=\"search\" autocomplete=\"off\"></label> \
                  <output></output></p>";
    let body = vec![
        element("header", &[], &element("h1", &[], &escape(title))),
        element(
            "main",
            &[("class", "book")],
            &element("section", &[], &(search.to_owned() + &blocks::all(&page.blocks))),
        ),
        format!("<script type=\"application/json\" id=\"tabs\">{}</script>", json::book::tabs(tabs)),
        format!("<script>{SCRIPT}</script>"),
    ];
    document(title, Some(SCRIPT), "", body)
}
