//! The probe plan on paper: as text, as Markdown, as HTML.

use crate::{
    grid::{escape_html, escape_markdown, wrap},
    probe_plan::PlanPage,
};

/// As text, `width` columns wide.
pub fn text(page: &PlanPage, width: usize) -> String {
    let mut out = format!("{}\n", page.title);
    for (label, text) in &page.intro {
        out.push_str(&format!("{label}: {text}\n"));
    }
    for step in &page.steps {
        out.push_str(&format!("\n{}\n", step.heading));
        for (label, text) in &step.lines {
            out.push_str(&format!("  {label:<7}{}\n", wrap(text, width.saturating_sub(9), 9)));
        }
        if !step.outcomes.rows.is_empty() {
            for row in &step.outcomes.rows {
                let [reads, causes, next] = row.as_slice() else { continue };
                out.push_str(&format!("    {reads}\n"));
                let then = if next.is_empty() { causes.clone() } else { format!("{causes}  ->  {next}") };
                out.push_str(&format!("        {}\n", wrap(&then, width.saturating_sub(8), 8)));
            }
        }
        for caution in &step.cautions {
            out.push_str(&format!("  !      {}\n", wrap(caution, width.saturating_sub(9), 9)));
        }
    }
    if let Some(drops) = &page.drops {
        out.push_str(&format!("\nDROP TEST, in the same state, current flowing\n{}", drops.text(width)));
    }
    out.push('\n');
    for note in &page.notes {
        out.push_str(&format!("{}\n", wrap(note, width, 0)));
    }
    out
}

/// As Markdown.
pub fn markdown(page: &PlanPage) -> String {
    let mut out = format!("## {}\n\n", escape_markdown(&page.title));
    for (label, text) in &page.intro {
        out.push_str(&format!("{label}: {}\n\n", escape_markdown(text)));
    }
    for step in &page.steps {
        out.push_str(&format!("### {}\n\n", escape_markdown(&step.heading)));
        for (label, text) in &step.lines {
            out.push_str(&format!("- **{label}** {}\n", escape_markdown(text)));
        }
        for caution in &step.cautions {
            out.push_str(&format!("- **caution** {}\n", escape_markdown(caution)));
        }
        if !step.outcomes.rows.is_empty() {
            out.push_str(&format!("\n{}", step.outcomes.markdown()));
        }
        out.push('\n');
    }
    if let Some(drops) = &page.drops {
        out.push_str(&format!("### Drop test, in the same state, current flowing\n\n{}\n", drops.markdown()));
    }
    for note in &page.notes {
        out.push_str(&format!("{}  \n", escape_markdown(note)));
    }
    out
}

/// As HTML sections, for a page.
pub fn html(page: &PlanPage) -> String {
    let mut out = format!("<h2>{}</h2>\n", escape_html(&page.title));
    for step in &page.steps {
        out.push_str(&format!("<section class=\"step\">\n<h3>{}</h3>\n<dl>\n", escape_html(&step.heading)));
        for (label, text) in &step.lines {
            out.push_str(&format!("<dt>{label}</dt><dd>{}</dd>\n", escape_html(text)));
        }
        for caution in &step.cautions {
            out.push_str(&format!("<dt>caution</dt><dd class=\"caution\">{}</dd>\n", escape_html(caution)));
        }
        out.push_str("</dl>\n");
        if !step.outcomes.rows.is_empty() {
            out.push_str(&step.outcomes.html());
        }
        out.push_str("</section>\n");
    }
    if let Some(drops) = &page.drops {
        out.push_str(&format!("<section class=\"step\">\n<h3>Drop test</h3>\n{}</section>\n", drops.html()));
    }
    for note in &page.notes {
        out.push_str(&format!("<p>{}</p>\n", escape_html(note)));
    }
    out
}
