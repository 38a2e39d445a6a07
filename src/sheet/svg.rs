//! Writes a page as SVG.
//!
//! Bars and notes are groups: `<g class="bar" data-bar="3" data-number="4">` has the index of the bar in the melody and
//! its number; `<g class="note" data-note="17">` has the index of the note and contains its head, stem, tab and words.
//! A note that is tied over a barline has a group in each bar. Holes of the chart are groups `<g class="hole"
//! data-hole="4" data-breath="draw" data-bend="1">`. Colours are attributes, so the style of a page around the SVG can
//! change them by class; a [`bare`] page leaves out the colours that the style sheet has. A document contains its
//! fonts, and browsers use them. Programs that ignore fonts in a style sheet use another serif typeface in the same
//! width.

use std::fmt::Write;

use crate::clean::is_hidden;

use super::{
    Page, Sheet,
    draw::{Anchor, Group, Ink, Item, Owner, Role},
    glyphs::Glyph,
    style::{DASHED_EDGE, DASHES, FRAME_EDGE, SHAPE_EDGE, Style, has_edge, style, tie_handles},
    text::Face,
    webfont,
};

/// The options of an SVG.
#[derive(Clone, Debug, Default)]
pub struct Look {
    /// A description for readers who cannot see the SVG.
    pub title: String,
    /// A prefix for each id, so that a page can contain several SVGs.
    pub prefix: String,
    /// The width and height on paper, such as `210mm` by `297mm`. Without them, the SVG fills the available room.
    pub paper: Option<(String, String)>,
    /// Whether the SVG contains its fonts, for readers who do not have the typeface.
    pub letters: bool,
}

/// Returns a page of a sheet as a document.
pub fn document(sheet: &Sheet, page: usize) -> String {
    let Some(drawn) = sheet.pages.get(page) else { return String::new() };
    let millimetres = |units: i32| {
        let hundredths = i64::from(units) * i64::from(sheet.unit_micrometres) / 10;
        format!("{}.{:02}mm", hundredths / 100, hundredths % 100)
    };
    let paper = Some((millimetres(drawn.width), millimetres(drawn.height)));
    write(drawn, &Look { title: sheet.title.clone(), prefix: String::new(), paper, letters: true })
}

/// Writes a page.
pub fn write(page: &Page, look: &Look) -> String {
    let mut writer = SvgWriter { out: String::with_capacity(64 * 1024), prefix: &look.prefix, inked: false };
    writer.page(page, look);
    writer.out
}

macro_rules! put {
    ($out:expr, $($arguments:tt)*) => {{
        // Writing into a `String` cannot fail.
        let _ = write!($out, $($arguments)*);
    }};
}

/// Returns the glyph outlines of some pages as an invisible SVG, for [`bare`] pages in the same document.
pub fn definitions(pages: &[Page]) -> String {
    let mut writer = SvgWriter { out: String::with_capacity(64 * 1024), prefix: "", inked: true };
    writer.out.push_str("<svg width=\"0\" height=\"0\" aria-hidden=\"true\" class=\"glyphs\">\n");
    writer.definitions(pages);
    writer.out.push_str("</svg>\n");
    writer.out
}

/// Returns the fonts of some pages as rules of a style sheet, for [`bare`] pages in the same document.
pub fn letters(pages: &[Page]) -> String {
    webfont::rules(pages)
}

/// The attribute that keeps browsers from moving letters to whole pixels, away from the notes.
const PRECISE: &str = "text-rendering=\"geometricPrecision\"";

/// Returns a page without fonts and outlines, for a document that has [`definitions`] of its glyphs, the rules for its
/// [`letters`] and the inks of `render/html/page.css`. The document must have the same content in words for readers who
/// cannot see the page.
pub fn bare(page: &Page) -> String {
    let mut writer = SvgWriter { out: String::with_capacity(32 * 1024), prefix: "", inked: true };
    let (width, height) = (page.width, page.height);
    put!(
        writer.out,
        "<svg viewBox=\"0 0 {width} {height}\" aria-hidden=\"true\" {PRECISE} font-family=\"{}\">\n",
        Face::FAMILIES
    );
    page.groups.iter().for_each(|group| writer.group(group));
    writer.out.push_str("</svg>\n");
    writer.out
}

struct SvgWriter<'a> {
    out: String,
    prefix: &'a str,
    /// Whether a style sheet around the page has the usual inks; if so, the SVG leaves the inks out.
    inked: bool,
}

/// The widths of lines that the style sheet sets, by the class of a line.
const LINES: [(&str, i32); 3] = [("staff", 28), ("barline", 40), ("stem", 30)];

impl SvgWriter<'_> {
    /// Writes each glyph outline that the pages use, once.
    fn definitions(&mut self, pages: &[Page]) {
        let mut glyphs: Vec<Glyph> = Vec::new();
        for group in pages.iter().flat_map(|page| &page.groups) {
            group.walk(&mut |_, item| {
                if let Ink::Glyph(glyph, ..) = item.ink {
                    glyphs.push(glyph);
                }
            });
        }
        glyphs.sort_unstable();
        glyphs.dedup();
        self.out.push_str("<defs>\n");
        for glyph in glyphs {
            put!(self.out, "<path id=\"{}{}\" d=\"{}\"/>\n", self.prefix, glyph.name(), glyph.path());
        }
        self.out.push_str("</defs>\n");
    }

    fn page(&mut self, page: &Page, look: &Look) {
        let (width, height) = (page.width, page.height);
        self.out.push_str("<svg xmlns=\"http://www.w3.org/2000/svg\"");
        if let Some((width, height)) = &look.paper {
            put!(self.out, " width=\"{width}\" height=\"{height}\"");
        }
        put!(
            self.out,
            " viewBox=\"0 0 {width} {height}\" role=\"img\" {PRECISE} font-family=\"{}\">\n",
            Face::FAMILIES
        );
        if !look.title.is_empty() {
            put!(self.out, "<title>{}</title>\n", Escaped(&look.title));
        }
        if look.paper.is_some() {
            put!(self.out, "<metadata>breathline {}</metadata>\n", env!("CARGO_PKG_VERSION"));
        }
        self.definitions(std::slice::from_ref(page));
        if look.letters {
            put!(self.out, "<style>\n{}</style>\n", webfont::rules(std::slice::from_ref(page)));
        }
        if look.paper.is_some() {
            put!(
                self.out,
                "<rect class=\"paper\" width=\"{width}\" height=\"{height}\" fill=\"#ffffff\"/>\n"
            );
        }
        page.groups.iter().for_each(|group| self.group(group));
        self.out.push_str("</svg>\n");
    }

    fn group(&mut self, group: &Group) {
        match group.owner {
            Owner::Heading => self.out.push_str("<g class=\"heading\">\n"),
            Owner::System(number) => put!(self.out, "<g class=\"system\" data-system=\"{number}\">\n"),
            Owner::Opening => self.out.push_str("<g class=\"opening\">\n"),
            Owner::Bar(index, number) => {
                put!(self.out, "<g class=\"bar\" data-bar=\"{index}\" data-number=\"{number}\">\n");
            }
            Owner::Note(index) => put!(self.out, "<g class=\"note\" data-note=\"{index}\">\n"),
            Owner::Chart => self.out.push_str("<g class=\"chart\">\n"),
            Owner::Hole(hole, draw, bend) => {
                let breath = if draw { "draw" } else { "blow" };
                let bend = if bend == 12 { "over".to_owned() } else { bend.to_string() };
                put!(
                    self.out,
                    "<g class=\"hole\" data-hole=\"{hole}\" data-breath=\"{breath}\" data-bend=\"{bend}\">\n"
                );
            }
            Owner::Legend => self.out.push_str("<g class=\"legend\">\n"),
        }
        group.items.iter().for_each(|item| self.item(item));
        group.groups.iter().for_each(|group| self.group(group));
        self.out.push_str("</g>\n");
    }

    fn item(&mut self, item: &Item) {
        let Style { class, stroke, .. } = style(item.role);
        match &item.ink {
            Ink::Glyph(glyph, x, y, scale) => {
                put!(self.out, "<use class=\"{class}\" href=\"#{}{}\"", self.prefix, glyph.name());
                match scale {
                    1000 => put!(self.out, " x=\"{x}\" y=\"{y}\""),
                    _ => put!(self.out, " transform=\"translate({x} {y}) scale({})\"", Thousandths(*scale)),
                }
                self.fill(item.role);
                self.out.push_str("/>\n");
            }
            Ink::Text(text) => {
                let (x, y) = text.at;
                let anchor = match text.anchor {
                    Anchor::Start => "",
                    Anchor::Middle => " text-anchor=\"middle\"",
                    Anchor::End => " text-anchor=\"end\"",
                };
                let face = match text.face {
                    Face::Regular => "",
                    Face::Italic => " font-style=\"italic\"",
                    Face::Semibold => " font-weight=\"600\"",
                };
                // The text keeps its width even where our fonts are missing.
                let width = item.bounds.right - item.bounds.left;
                let size = text.size;
                put!(
                    self.out,
                    "<text class=\"{class}\" x=\"{x}\" y=\"{y}\" font-size=\"{size}\"{anchor}{face} textLength=\"{width}\" \
                     lengthAdjust=\"spacingAndGlyphs\""
                );
                self.fill(item.role);
                put!(self.out, ">{}</text>\n", Escaped(&text.text));
            }
            Ink::Line(ends, width) => self.line(item.role, *ends, *width),
            Ink::Dashed => {
                let [long, short] = DASHES;
                self.outline(item, DASHED_EDGE, &format!(" stroke-dasharray=\"{long} {short}\""));
            }
            Ink::Framed => self.outline(item, FRAME_EDGE, ""),
            Ink::Polygon(points) => {
                put!(self.out, "<path class=\"{class}\" d=\"");
                for (index, (x, y)) in points.iter().enumerate() {
                    put!(self.out, "{}{x} {y}", if index == 0 { 'M' } else { 'L' });
                }
                self.out.push_str("Z\"");
                self.fill(item.role);
                if has_edge(item.role) && !self.inked {
                    put!(
                        self.out,
                        " stroke=\"{stroke}\" stroke-width=\"{SHAPE_EDGE}\" stroke-linejoin=\"round\""
                    );
                }
                self.out.push_str("/>\n");
            }
            Ink::Tie([x1, y1, x2, y2], height) => {
                let [[ax, ay], [bx, by], [cx, cy], [dx, dy]] = tie_handles([*x1, *y1, *x2, *y2], *height);
                put!(
                    self.out,
                    "<path class=\"{class}\" d=\"M{x1} {y1}C{ax} {ay} {bx} {by} {x2} {y2}C{cx} {cy} {dx} {dy} {x1} {y1}Z\""
                );
                self.fill(item.role);
                self.out.push_str("/>\n");
            }
        }
    }

    /// Writes the fill colour of an item, unless a style sheet sets it. With a style sheet, fills are black by default,
    /// and the houses of the tab and their figures have their own rules.
    fn fill(&mut self, role: Role) {
        let ruled = matches!(role, Role::BlowShape | Role::DrawShape | Role::Blow | Role::Draw);
        let Style { fill, .. } = style(role);
        if !(self.inked && (ruled || fill == style(Role::Note).fill)) {
            put!(self.out, " fill=\"{fill}\"");
        }
    }

    fn line(&mut self, role: Role, [x1, y1, x2, y2]: [i32; 4], width: i32) {
        let Style { class, stroke, .. } = style(role);
        // A stem has its own class, because a head of the same ink has no stroke.
        let class = if self.inked && role == Role::Note { "stem" } else { class };
        put!(self.out, "<path class=\"{class}\" d=\"M{x1} {y1}L{x2} {y2}\"");
        let ruled = LINES.iter().find(|(line, _)| self.inked && *line == class);
        if ruled.is_none() {
            put!(self.out, " stroke=\"{stroke}\"");
        }
        if ruled.is_none_or(|(_, usual)| *usual != width) {
            put!(self.out, " stroke-width=\"{width}\"");
        }
        self.out.push_str("/>\n");
    }

    /// Writes an unfilled rectangle.
    fn outline(&mut self, item: &Item, edge: i32, dashes: &str) {
        let (Style { class, stroke, .. }, bounds) = (style(item.role), item.bounds);
        put!(
            self.out,
            "<rect class=\"{class}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"none\" stroke=\"{stroke}\" \
             stroke-width=\"{edge}\"{dashes}/>\n",
            bounds.left,
            bounds.top,
            bounds.right - bounds.left,
            bounds.bottom - bounds.top
        );
    }
}

/// A number in thousandths, shown as a decimal.
struct Thousandths(i32);

impl std::fmt::Display for Thousandths {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}.{:03}", self.0 / 1000, self.0 % 1000)
    }
}

/// A text, shown safely for XML: with its special characters escaped, and without hidden characters.
struct Escaped<'a>(&'a str);

impl std::fmt::Display for Escaped<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for char in self.0.chars() {
            match char {
                '&' => f.write_str("&amp;")?,
                '<' => f.write_str("&lt;")?,
                '>' => f.write_str("&gt;")?,
                '"' => f.write_str("&quot;")?,
                '\'' => f.write_str("&#39;")?,
                // XML forbids these two characters and most control characters, which are among the hidden ones.
                char if is_hidden(char) || matches!(char, '\u{fffe}' | '\u{ffff}') => {}
                char => f.write_char(char)?,
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The style sheet of the pages has the inks that [`bare`] leaves out.
    #[test]
    fn the_style_sheet_has_the_inks_that_a_bare_page_leaves_out() {
        let css = include_str!("../render/html/page.css");
        let rule = |rule: String| assert!(css.contains(&rule), "{rule}");
        for (class, width) in LINES {
            let role = match class {
                "staff" => Role::Staff,
                "barline" => Role::Bar,
                _ => Role::Note,
            };
            let stroke = style(role).stroke;
            rule(format!(".paper path.{class} {{ stroke: {stroke}; }}"));
            rule(format!(".paper path.{class}:not([stroke-width]) {{ stroke-width: {width}; }}"));
        }
        for role in [Role::BlowShape, Role::DrawShape] {
            let Style { class, fill, stroke } = style(role);
            rule(format!(
                ".paper path.{class} {{ fill: {fill}; stroke: {stroke}; stroke-width: {SHAPE_EDGE}; stroke-linejoin: round; }}"
            ));
        }
        for role in [Role::Blow, Role::Draw] {
            let Style { class, fill, .. } = style(role);
            rule(format!(".paper .{class} {{ fill: {fill}; }}"));
        }
    }
}
