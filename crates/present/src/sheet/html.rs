//! A sheet as one HTML file for the printer: A4 or US Letter, no figure broken across pages, pages numbered.

use super::{
    Question, Sheet,
    answers::{blanked, key_grid},
};
use crate::grid::escape_html;

/// What it is printed on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Paper {
    #[allow(missing_docs)]
    #[default]
    A4,
    /// US Letter.
    Letter,
}

const STYLE: &str = "
html { font: 11pt/1.4 system-ui, 'Helvetica Neue', Arial, sans-serif; color: #000; background: #fff; }
body { max-width: 190mm; margin: 0 auto; padding: 4mm; }
h1 { font-size: 17pt; margin: 0 0 1mm; }
h2 { font-size: 12pt; margin: 6mm 0 2mm; break-after: avoid; }
header p { margin: 0 0 2mm; }
.name { display: flex; gap: 8mm; margin: 3mm 0; }
.name span { flex: 1; border-bottom: 1px solid #000; padding-bottom: 4mm; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: 1mm 4mm; margin: 2mm 0; }
dt { font-weight: 600; } dd { margin: 0; }
figure { margin: 4mm 0; break-inside: avoid; text-align: center; }
figure svg { max-width: 100%; max-height: 190mm; width: auto; height: auto; }
figure.tall svg { max-height: 232mm; }
.question { break-inside: avoid; }
table { border-collapse: collapse; margin: 2mm 0; font-size: 10pt; }
th, td { border: 1px solid #555; padding: 1mm 2mm; text-align: left; vertical-align: top; }
td.blank { min-width: 30mm; height: 8mm; }
.line { border-bottom: 1px solid #777; height: 8mm; }
footer { margin-top: 8mm; font-size: 8pt; color: #333; }
@media print { body { max-width: none; padding: 0; } }
";

/// Pixels from which a drawing under the head of its sheet would be too small to write in: it gets a page of its own.
const TALL: f64 = 1200.0;

/// The height that a drawing of ours says it has.
fn pixels_high(svg: &str) -> f64 {
    let height = svg.split_once(" height=\"").and_then(|(_, rest)| rest.split('"').next());
    height.and_then(|height| height.parse().ok()).unwrap_or(0.0)
}

/// The learner's side, or the key.
pub fn sheet_html(sheet: &Sheet, key: bool, paper: Paper) -> String {
    let size = match paper {
        Paper::A4 => "A4",
        Paper::Letter => "letter",
    };
    let what = if key { "answer key, " } else { "" };
    let foot = escape_css(&format!("{what}sheet {}", sheet.hash));
    let page = format!(
        "@page {{ size: {size}; margin: 15mm 14mm 16mm; @bottom-right {{ content: counter(page) \" / \" counter(pages); \
         font-size: 8pt; }} @bottom-left {{ content: \"{foot}\"; font-size: 8pt; }} }}\n"
    );
    let title = escape_html(&sheet.title);
    let head = if key { format!("Answer key: {title}") } else { title.clone() };
    let mut out = format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{head}</title>\n\
         <style>{STYLE}{page}</style>\n</head>\n<body>\n<header>\n<h1>{head}</h1>\n<p>{}</p>\n",
        escape_html(&sheet.circuit)
    );
    if !key {
        out.push_str("<div class=\"name\"><span>Name</span><span>Date</span></div>\n");
    }
    out.push_str("</header>\n<dl>\n");
    for (label, text) in &sheet.given {
        out.push_str(&format!("<dt>{}</dt><dd>{}</dd>\n", escape_html(label), escape_html(text)));
    }
    out.push_str("</dl>\n");
    if key {
        for line in &sheet.fault {
            out.push_str(&format!("<p><strong>{}</strong></p>\n", escape_html(line)));
        }
    }
    let diagram = if key { &sheet.key_diagram } else { &sheet.diagram };
    let class = if pixels_high(diagram) > TALL { " class=\"tall\"" } else { "" };
    out.push_str(&format!("<figure{class}>\n{diagram}</figure>\n"));
    for (i, question) in sheet.questions.iter().enumerate() {
        out.push_str(&format!(
            "<section class=\"question\">\n<h2>{}. {}</h2>\n",
            i + 1,
            escape_html(&question.text)
        ));
        if key {
            answers(&mut out, question);
        } else {
            blanks(&mut out, question);
        }
        out.push_str("</section>\n");
    }
    out.push_str(&format!(
        "<footer>{what}sheet {} · computed for teaching; the maker's data wins</footer>\n</body>\n</html>\n",
        escape_html(&sheet.hash)
    ));
    out
}

fn blanks(out: &mut String, question: &Question) {
    if let Some(table) = &question.table {
        out.push_str(&blanked(table).html());
        return;
    }
    if question.blanks.iter().all(|(what, _)| what.is_empty()) {
        for _ in &question.blanks {
            out.push_str("<div class=\"line\"></div>\n<div class=\"line\"></div>\n");
        }
        return;
    }
    out.push_str("<table>\n");
    for (what, blank) in &question.blanks {
        out.push_str(&format!("<tr><td>{}</td><td class=\"blank\">{blank}</td></tr>\n", escape_html(what)));
    }
    out.push_str("</table>\n");
}

fn answers(out: &mut String, question: &Question) {
    if let Some(table) = &question.table {
        out.push_str(&table.html());
    }
    if !question.answers.is_empty() {
        out.push_str(&key_grid(&question.answers).html());
    }
}

/// A text inside a CSS string.
fn escape_css(text: &str) -> String {
    text.chars().filter(|c| c.is_ascii_alphanumeric() || matches!(c, ' ' | ',')).collect()
}
