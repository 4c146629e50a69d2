//! `workspace/executeCommand`, and the requests of our own that do the same: `keyon/table`, `keyon/hold`,
//! `keyon/explain`, `keyon/draw`; and those without a command, `keyon/locate` and `keyon/rules`.

use crate::snapshot::Snapshot;
use keyon_solve::Cancelled;
use serde::{Deserialize, Serialize};
use tower_lsp::lsp_types::{Location, Url};

/// The commands, in the order in which they are announced.
pub(crate) const COMMANDS: [&str; 4] = ["keyon.table", "keyon.hold", "keyon.explain", "keyon.draw"];

/// Asks for a truth table.
#[derive(Clone, Debug, Deserialize)]
pub(crate) struct TableParams {
    pub(crate) uri: Url,
    /// A device, driver, control or module; without one, everything.
    #[serde(default)]
    pub(crate) name: Option<String>,
}

/// A truth table as Markdown.
#[derive(Debug, Serialize)]
pub(crate) struct TableResult {
    /// `None` if there is nothing of that name.
    pub(crate) markdown: Option<String>,
}

pub(crate) fn table(snapshot: &Snapshot, params: TableParams) -> Result<TableResult, Cancelled> {
    let markdown = snapshot.view(|view| keyon_ide::truth_table(view, params.name.as_deref()))?;
    Ok(TableResult { markdown })
}

/// Holds a scenario for a document.
#[derive(Debug, Deserialize)]
pub(crate) struct HoldParams {
    pub(crate) uri: Url,
    /// Without one the file's own choice applies again.
    #[serde(default)]
    pub(crate) scenario: Option<String>,
}

/// What is held, and what could be.
#[derive(Debug, Serialize)]
pub(crate) struct HoldResult {
    /// The scenario that is shown now; `None` is the state at rest.
    pub(crate) scenario: Option<String>,
    pub(crate) scenarios: Vec<String>,
    /// Whether the wish can be met.
    pub(crate) known: bool,
}

pub(crate) fn hold(snapshot: &Snapshot, wish: Option<String>) -> Result<HoldResult, Cancelled> {
    let (scenarios, own) =
        snapshot.view(|view| (keyon_ide::scenarios(view), keyon_ide::shown(view.elaboration, None)));
    let known = wish.as_ref().is_none_or(|wish| scenarios.contains(wish));
    let scenario = wish.filter(|_| known).or(own);
    Ok(HoldResult { scenario, scenarios, known })
}

/// Asks for the diagram.
#[derive(Clone, Debug, Deserialize)]
pub(crate) struct DrawParams {
    pub(crate) uri: Url,
    /// `plain`, `colours`, or the shown `state`, which is usual.
    #[serde(default)]
    pub(crate) view: Option<String>,
    /// Only the circuit of this.
    #[serde(default)]
    pub(crate) of: Option<String>,
    /// Each wire says the name of its point, to be clicked.
    #[serde(default)]
    pub(crate) tappable: bool,
}

/// The diagram.
#[derive(Debug, Serialize)]
pub(crate) struct DrawResult {
    pub(crate) svg: String,
}

pub(crate) fn draw(snapshot: &Snapshot, params: DrawParams) -> Result<DrawResult, Cancelled> {
    let look = match params.view.as_deref() {
        Some("plain") => keyon_ide::Look::Plain,
        Some("colours") => keyon_ide::Look::Colours,
        _ => keyon_ide::Look::State,
    };
    let (of, tappable) = (params.of.as_deref(), params.tappable);
    Ok(DrawResult { svg: snapshot.view(|view| keyon_ide::drawing(view, look, of, tappable)) })
}

/// Asks where something is declared that a drawing or a table names.
#[derive(Clone, Debug, Deserialize)]
pub(crate) struct LocateParams {
    pub(crate) uri: Url,
    pub(crate) name: String,
}

pub(crate) fn locate(snapshot: &Snapshot, params: LocateParams) -> Result<Option<Location>, Cancelled> {
    Ok(snapshot.view(|view| {
        let loc = keyon_ide::whereabouts(view, &params.name)?;
        snapshot.location(view.elaboration, loc)
    }))
}

/// Asks what a rule is about.
#[derive(Debug, Deserialize)]
pub(crate) struct ExplainParams {
    pub(crate) rule: String,
}

/// A rule to choose.
#[derive(Debug, Serialize)]
pub(crate) struct RuleResult {
    pub(crate) name: &'static str,
    pub(crate) level: &'static str,
    pub(crate) summary: &'static str,
}

pub(crate) fn rules() -> Vec<RuleResult> {
    let rules = keyon_ide::rules().into_iter();
    rules.map(|r| RuleResult { name: r.name, level: r.level, summary: r.summary }).collect()
}
