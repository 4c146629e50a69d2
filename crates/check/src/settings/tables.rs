//! The tables in a `keyon.toml`: ampacity by conductor size, fuse ratings.

use super::{
    file::{Reader, Value},
    quantity,
};
use keyon_syntax::unit::Dimension;
use toml::de::{DeArray, DeTable};

impl Reader {
    /// Sizes and amps, above zero, each size once, rising with the size.
    pub(super) fn ampacity(
        &mut self,
        table: &DeTable<'_>,
        whole: &std::ops::Range<usize>,
    ) -> Option<Vec<(f64, f64)>> {
        let mut rows: Vec<(f64, f64, std::ops::Range<usize>)> = Vec::new();
        for (key, value) in table {
            let size = key.get_ref().as_ref();
            let area = match quantity::read_area(size) {
                Ok(area) if area > 0.0 => area,
                Ok(_) => {
                    self.blame(&key.span(), format!("a conductor of {size} carries nothing"), None);
                    continue;
                }
                Err(message) => {
                    self.blame(
                        &key.span(),
                        message,
                        Some("lines of `[ampacity]` are such as \"0.75 mm2\" = \"14 A\""),
                    );
                    continue;
                }
            };
            if let Some(amps) = self.amps(value, "a line of `[ampacity]`") {
                rows.push((area, amps, key.span()));
            }
        }
        rows.sort_by(|a, b| a.0.total_cmp(&b.0));
        for pair in rows.windows(2) {
            if let [(thin, less, _), (thick, more, span)] = pair {
                if thick <= thin {
                    self.blame(span, "this size stands twice".to_owned(), Some("remove one of the two"));
                } else if more < less {
                    self.blame(
                        span,
                        "a thicker conductor cannot carry less than a thinner one".to_owned(),
                        Some("look up both again"),
                    );
                }
            }
        }
        rows.dedup_by(|b, a| b.0 <= a.0);
        if rows.is_empty() {
            self.blame(whole, "`ampacity` has no row, so the built-in table holds".to_owned(), None);
            return None;
        }
        Some(rows.into_iter().map(|(area, amps, _)| (area, amps)).collect())
    }

    pub(super) fn fuses(&mut self, array: &DeArray<'_>, whole: &std::ops::Range<usize>) -> Option<Vec<f64>> {
        let mut ratings: Vec<f64> =
            array.iter().filter_map(|value| self.amps(value, "a fuse rating")).collect();
        ratings.sort_by(f64::total_cmp);
        ratings.dedup();
        if ratings.is_empty() {
            self.blame(whole, "`fuses` has no rating, so the usual ones hold".to_owned(), None);
            return None;
        }
        Some(ratings)
    }

    fn amps(&mut self, value: Value<'_, '_>, what: &str) -> Option<f64> {
        let Some(text) = value.get_ref().as_str() else {
            self.wrong_kind(value, what, "a current in quotes, such as \"14 A\"");
            return None;
        };
        match quantity::read(text, Dimension::Current) {
            Ok(amps) if amps > 0.0 => Some(amps),
            Ok(_) => {
                self.blame(&value.span(), format!("{what} cannot be {text}"), None);
                None
            }
            Err(message) => {
                self.blame(&value.span(), message, None);
                None
            }
        }
    }
}
