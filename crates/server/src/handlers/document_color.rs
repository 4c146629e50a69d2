//! `textDocument/documentColor` and `textDocument/colorPresentation`

use crate::snapshot::Snapshot;
use keyon_solve::Cancelled;
use tower_lsp::lsp_types::{
    Color, ColorInformation, ColorPresentation, ColorPresentationParams, DocumentColorParams,
};

pub(crate) fn run(snapshot: &Snapshot, _: DocumentColorParams) -> Result<Vec<ColorInformation>, Cancelled> {
    let swatches = snapshot.view(keyon_ide::swatches);
    let part = |byte: u8| f32::from(byte) / 255.0;
    let each = swatches.into_iter().map(|swatch| {
        let [red, green, blue] = swatch.rgb.map(part);
        ColorInformation { range: snapshot.range(swatch.span), color: Color { red, green, blue, alpha: 1.0 } }
    });
    Ok(each.collect())
}

/// A wire's colour is one of the standard's letters: the text that stands there is the only way to write it.
pub(crate) fn presentation(
    snapshot: &Snapshot,
    params: ColorPresentationParams,
) -> Result<Vec<ColorPresentation>, Cancelled> {
    let span = snapshot.span(params.range);
    let text = snapshot.text().get(span.range()).unwrap_or_default();
    Ok(vec![ColorPresentation { label: text.to_owned(), ..ColorPresentation::default() }])
}
