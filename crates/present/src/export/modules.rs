//! Control modules: connectors, cavities, gangs.

use super::{
    Exporter,
    law::maybe,
    things::{attributes, part, role},
};
use keyon_circuit::model::{Cavity, Module};
use serde_json::{Value, json};

impl Exporter<'_> {
    pub(super) fn modules(&self) -> Value {
        self.circuit.modules.iter().map(|module| self.module(module)).collect()
    }

    fn module(&self, module: &Module) -> Value {
        let connectors = module.connectors.iter().map(|connector| {
            json!({
                "name": connector.name.as_str(),
                "title": connector.title,
                "cavities": connector.cavities.iter().map(|cavity| self.cavity(cavity)).collect::<Vec<_>>(),
                "attributes": attributes(&connector.attributes),
                "at": self.at(connector.loc),
            })
        });
        let point = |&(connector, cavity): &(usize, usize)| {
            let cavity = module.connectors.get(connector).and_then(|c| c.cavities.get(cavity));
            cavity.map_or(Value::Null, |cavity| self.point_id(cavity.outside))
        };
        let gangs = module.gangs.iter().map(|gang| {
            json!({
                "control": self.control_id(Some(gang.control)),
                "stages": gang.stages.iter().map(point).collect::<Vec<_>>(),
                "at": self.at(gang.loc),
            })
        });
        json!({
            "id": format!("module:{}", module.name),
            "name": module.name.as_str(),
            "title": module.title,
            "part": part(&module.part),
            "connectors": connectors.collect::<Vec<_>>(),
            "feeds": module.feeds.iter().map(point).collect::<Vec<_>>(),
            "grounds": module.grounds.iter().map(point).collect::<Vec<_>>(),
            "gangs": gangs.collect::<Vec<_>>(),
            "attributes": attributes(&module.attributes),
            "at": self.at(module.loc),
        })
    }

    fn cavity(&self, cavity: &Cavity) -> Value {
        let mut out = role(&cavity.role);
        let shared = cavity.shared_by.as_ref().map(|(sharers, _)| self.sharers(sharers));
        out.insert("number".into(), json!(cavity.number.as_str()));
        out.insert("name".into(), json!((!cavity.name.is_empty()).then(|| cavity.name.as_str())));
        out.insert("outside".into(), self.point_id(cavity.outside));
        out.insert("inside".into(), self.point_id(cavity.inside));
        out.insert("terminal".into(), self.element_id(cavity.terminal));
        out.insert("elements".into(), self.element_ids(&cavity.elements));
        out.insert("landings".into(), self.element_ids(&cavity.landings));
        out.insert("control".into(), self.control_id(cavity.control));
        out.insert("limit".into(), maybe(cavity.limit));
        out.insert("clamp".into(), json!(cavity.clamp));
        out.insert("pwm".into(), maybe(cavity.pwm));
        out.insert("shared_by".into(), json!(shared));
        out.insert("range".into(), json!(cavity.range.map(|(low, high)| [low, high])));
        out.insert("threshold".into(), json!(cavity.threshold));
        out.insert("unused".into(), json!(cavity.unused.is_some()));
        out.insert("at".into(), self.at(cavity.loc));
        Value::Object(out)
    }
}
