//! `textDocument/prepareCallHierarchy`, `callHierarchy/incomingCalls` (towards the supply) and
//! `callHierarchy/outgoingCalls` (towards ground), in the shown state.

use crate::snapshot::Snapshot;
use keyon_ide::{Stop, Towards};
use keyon_solve::Cancelled;
use serde_json::{Value, json};
use tower_lsp::lsp_types::{
    CallHierarchyIncomingCall, CallHierarchyItem, CallHierarchyOutgoingCall, CallHierarchyPrepareParams,
    SymbolKind,
};

pub(crate) fn prepare(
    snapshot: &Snapshot,
    params: CallHierarchyPrepareParams,
) -> Result<Option<Vec<CallHierarchyItem>>, Cancelled> {
    let offset = snapshot.offset(params.text_document_position_params.position);
    let stops = snapshot.view(|view| keyon_ide::stops_at(view, offset));
    let items = items(snapshot, stops);
    Ok((!items.is_empty()).then_some(items))
}

pub(crate) fn incoming(
    snapshot: &Snapshot,
    item: CallHierarchyItem,
) -> Result<Option<Vec<CallHierarchyIncomingCall>>, Cancelled> {
    let items = next(snapshot, &item, Towards::Supply);
    let call =
        |from: CallHierarchyItem| CallHierarchyIncomingCall { from_ranges: vec![from.selection_range], from };
    Ok(Some(items.into_iter().map(call).collect()))
}

pub(crate) fn outgoing(
    snapshot: &Snapshot,
    item: CallHierarchyItem,
) -> Result<Option<Vec<CallHierarchyOutgoingCall>>, Cancelled> {
    let items = next(snapshot, &item, Towards::Ground);
    let call =
        |to: CallHierarchyItem| CallHierarchyOutgoingCall { from_ranges: vec![item.selection_range], to };
    Ok(Some(items.into_iter().map(call).collect()))
}

/// The document that an item was asked in: the item's own place may be in a library.
pub(crate) fn document(item: &CallHierarchyItem) -> Option<tower_lsp::lsp_types::Url> {
    item.data.as_ref()?.get("document")?.as_str()?.parse().ok()
}

fn next(snapshot: &Snapshot, item: &CallHierarchyItem, towards: Towards) -> Vec<CallHierarchyItem> {
    let name = item.data.as_ref().and_then(|d| d.get("point")).and_then(Value::as_str).unwrap_or(&item.name);
    let stops = snapshot.view(|view| keyon_ide::next_stops(view, name, towards));
    items(snapshot, stops)
}

fn items(snapshot: &Snapshot, stops: Vec<Stop>) -> Vec<CallHierarchyItem> {
    let elaboration = snapshot.cell.elaboration();
    let item = |stop: Stop| {
        let place = snapshot.location(&elaboration, stop.loc)?;
        Some(CallHierarchyItem {
            data: Some(json!({ "document": snapshot.cell.uri.as_str(), "point": stop.name })),
            name: stop.name,
            kind: SymbolKind::FIELD,
            tags: None,
            detail: Some(stop.detail),
            uri: place.uri,
            range: place.range,
            selection_range: place.range,
        })
    };
    stops.into_iter().filter_map(item).collect()
}
