//! Paper, and how a drawing stands on it: where it can be read, and written in.

/// What is printed on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Paper {
    #[allow(missing_docs)]
    #[default]
    A4,
    #[allow(missing_docs)]
    A3,
    /// US Letter.
    Letter,
}

/// Millimetres between the edges of the paper and what is printed: above, beside, below.
pub(super) const MARGINS: [f64; 3] = [15.0, 14.0, 16.0];
/// Pixels of a millimetre.
const PIXELS: f64 = 96.0 / 25.4;
/// Millimetres that the head of a sheet takes, about.
const HEAD: f64 = 62.0;
/// Millimetres that a figure keeps clear.
const CLEAR: f64 = 10.0;

/// Where a drawing stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stand {
    /// Under the head.
    Under,
    /// On a page of its own.
    Alone,
    /// On a page of its own, turned.
    Turned,
}

impl Paper {
    /// As CSS names it.
    pub(super) fn css(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::A3 => "A3",
            Self::Letter => "letter",
        }
    }

    /// Width and height of what is printed on it, millimetres.
    fn inside(self) -> [f64; 2] {
        let [above, beside, below] = MARGINS;
        // Sizes after ISO 216 and ANSI/ASME Y14.1.
        let [wide, high] = match self {
            Self::A4 => [210.0, 297.0],
            Self::A3 => [297.0, 420.0],
            Self::Letter => [215.9, 279.4],
        };
        [wide - 2.0 * beside, high - above - below]
    }

    /// The room of a drawing, millimetres.
    pub(super) fn room(self, stand: Stand) -> [f64; 2] {
        let [wide, high] = self.inside();
        match stand {
            Stand::Under => [wide, high - HEAD],
            Stand::Alone => [wide, high - CLEAR],
            Stand::Turned => [high, wide - CLEAR],
        }
    }

    /// Where a drawing of this size (pixels) stands best: under the head unless it is much larger elsewhere.
    pub(super) fn stand(self, (wide, high): (f64, f64)) -> Stand {
        let scale = |stand: Stand| {
            let [w, h] = self.room(stand).map(|mm| mm * PIXELS);
            (w / wide.max(1.0)).min(h / high.max(1.0)).min(1.0)
        };
        let better = |than: Stand, stand: Stand| scale(stand) > scale(than) * 1.2;
        let alone = if better(Stand::Alone, Stand::Turned) { Stand::Turned } else { Stand::Alone };
        if scale(Stand::Under) < 0.85 && better(Stand::Under, alone) { alone } else { Stand::Under }
    }
}

#[cfg(test)]
mod tests {
    use super::{Paper, Stand};

    #[test]
    fn a_drawing_stands_where_it_is_largest() {
        assert_eq!(Paper::A4.stand((480.0, 600.0)), Stand::Under);
        assert_eq!(Paper::A4.stand((480.0, 1100.0)), Stand::Alone);
        assert_eq!(Paper::A4.stand((1100.0, 600.0)), Stand::Turned);
        // Larger than any page either way: under the head it is as good as anywhere.
        assert_eq!(Paper::A4.stand((1500.0, 1500.0)), Stand::Under);
        assert_eq!(Paper::A3.stand((480.0, 1100.0)), Stand::Under);
    }
}
