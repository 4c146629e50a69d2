//! `textDocument/signatureHelp`

use crate::snapshot::Snapshot;
use keyon_solve::Cancelled;
use tower_lsp::lsp_types::{
    Documentation, ParameterInformation, ParameterLabel, SignatureHelp, SignatureHelpParams,
    SignatureHelpTriggerKind, SignatureInformation,
};

pub(crate) fn run(
    snapshot: &Snapshot,
    params: SignatureHelpParams,
) -> Result<Option<SignatureHelp>, Cancelled> {
    let offset = snapshot.offset(params.text_document_position_params.position);
    // Who types sees it as long as something has to follow; who asks for it also what may.
    let asked =
        params.context.is_none_or(|context| context.trigger_kind == SignatureHelpTriggerKind::INVOKED);
    let found = snapshot.view(|view| keyon_ide::signature(view, offset, asked));
    let Some(found) = found else { return Ok(None) };
    // Offsets in the label are counted in UTF-16 units, whatever the encoding of positions is.
    let utf16 = |byte: usize| found.label.get(..byte).map_or(0, |t| t.encode_utf16().count() as u32);
    let parameters = found.params.iter().map(|param| ParameterInformation {
        label: ParameterLabel::LabelOffsets([utf16(param.range.start), utf16(param.range.end)]),
        documentation: param.about.map(|about| Documentation::String(about.into())),
    });
    let active = found.active.map(|a| a as u32);
    let signature = SignatureInformation {
        parameters: Some(parameters.collect()),
        documentation: found.title.clone().map(Documentation::String),
        active_parameter: active,
        label: found.label.clone(),
    };
    Ok(Some(SignatureHelp {
        signatures: vec![signature],
        active_signature: Some(0),
        active_parameter: active,
    }))
}
