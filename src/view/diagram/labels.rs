//! Text that does not overlap: a label has places where it may stand, and goes
//! to the first that is free; one that finds none and is not needed is left out.

/// The widest that a character is taken to be, in units of the size of the font:
/// wider than the mean of any common sans-serif.
const EM_PER_CHAR: f64 = 0.6;

/// The class of bold text, and the same for it.
const BOLD: &str = "b";
const EM_PER_BOLD: f64 = 0.68;

/// Above and below the base line, in units of the size of the font.
const ASCENT: f64 = 0.8;
const DESCENT: f64 = 0.22;

/// Left free between two labels side by side.
const APART: f64 = 3.0;

/// A box on the page.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Area {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Area {
    pub(super) fn new(left: f64, top: f64, right: f64, bottom: f64) -> Self {
        Self {
            left,
            top,
            right,
            bottom,
        }
    }

    /// A square around a place.
    pub(super) fn around((x, y): (f64, f64), reach: f64) -> Self {
        Self::new(x - reach, y - reach, x + reach, y + reach)
    }

    pub(super) fn meets(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    /// The same, reaching farther to the left and to the right.
    fn wider(&self, by: f64) -> Self {
        Self::new(self.left - by, self.top, self.right + by, self.bottom)
    }

    pub(super) fn is_within(&self, other: &Self) -> bool {
        self.left >= other.left
            && self.right <= other.right
            && self.top >= other.top
            && self.bottom <= other.bottom
    }

    pub(super) fn width(&self) -> f64 {
        self.right - self.left
    }

    pub(super) fn height(&self) -> f64 {
        self.bottom - self.top
    }
}

/// Which part of a text is at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

impl Anchor {
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Middle => "middle",
            Self::End => "end",
        }
    }
}

/// Place of the base line's anchor.
pub(super) type Stand = (f64, f64, Anchor);

/// A text that wants a place.
#[derive(Clone, Debug)]
pub(super) struct Label {
    pub text: String,
    pub size: f64,
    pub class: &'static str,
    /// Lower is placed first.
    pub rank: u8,
    /// Where it may stand, the best first.
    pub stands: Vec<Stand>,
    /// Where it has to stay within.
    pub within: Area,
    /// Whether it rather is not there than over a curve.
    pub clear: bool,
}

/// A text at its place.
#[derive(Clone, Debug)]
pub(super) struct Placed {
    pub text: String,
    pub size: f64,
    pub class: &'static str,
    pub stand: Stand,
}

/// Width of a text of a class.
pub(super) fn width(text: &str, size: f64, class: &str) -> f64 {
    let narrow = em(class);
    let ems: f64 = text
        .chars()
        // Wide scripts are as wide as they are high.
        .map(|c| if c < '\u{2E80}' { narrow } else { 1.0 })
        .sum();
    ems * size
}

fn em(class: &str) -> f64 {
    if class == BOLD {
        EM_PER_BOLD
    } else {
        EM_PER_CHAR
    }
}

/// The box of a text.
pub(super) fn area(text: &str, size: f64, class: &str, (x, y, anchor): Stand) -> Area {
    let width = width(text, size, class);
    let left = match anchor {
        Anchor::Start => x,
        Anchor::Middle => x - width / 2.0,
        Anchor::End => x - width,
    };
    Area::new(left, y - ASCENT * size, left + width, y + DESCENT * size)
}

/// A text cut to a width, with an ellipsis where something is gone.
pub(super) fn cut(text: &str, size: f64, class: &str, room: f64) -> String {
    if width(text, size, class) <= room {
        return text.to_owned();
    }
    let mut short = String::new();
    for c in text.chars() {
        let mut longer = short.clone();
        longer.push(c);
        if width(&longer, size, class) + em(class) * size > room {
            break;
        }
        short = longer;
    }
    format!("{}…", short.trim_end())
}

/// Places labels, those of lower rank first and in their order within a rank.
/// `hard` is never covered; `soft` only where nothing else is left.
pub(super) fn place(mut labels: Vec<Label>, hard: &[Area], soft: &[Area]) -> Vec<Placed> {
    labels.sort_by_key(|label| label.rank);
    let mut taken: Vec<Area> = hard.to_vec();
    let mut placed = Vec::new();
    for label in labels {
        let free = label
            .stands
            .iter()
            .map(|&stand| (stand, area(&label.text, label.size, label.class, stand)))
            .filter(|(_, own)| own.is_within(&label.within))
            .filter(|(_, own)| !taken.iter().any(|other| other.meets(&own.wider(APART))));
        let hits = |own: &Area| soft.iter().filter(|other| other.meets(own)).count();
        let best = free
            .map(|(stand, own)| (stand, own, hits(&own)))
            .filter(|(_, _, hits)| !label.clear || *hits == 0)
            .min_by_key(|(_, _, hits)| *hits);
        if let Some((stand, own, _)) = best {
            taken.push(own);
            placed.push(Placed {
                text: label.text,
                size: label.size,
                class: label.class,
                stand,
            });
        }
    }
    placed
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    fn label(text: &str, rank: u8, stands: &[Stand]) -> Label {
        Label {
            text: text.to_owned(),
            size: 10.0,
            class: "",
            rank,
            stands: stands.to_vec(),
            within: Area::new(0.0, 0.0, 100.0, 100.0),
            clear: false,
        }
    }

    #[test]
    fn a_box_by_hand() {
        // Four characters of 6 units; 8 above and 2.2 below the base line.
        let own = area("1000", 10.0, "", (50.0, 20.0, Anchor::End));
        assert_eq!(own, Area::new(26.0, 12.0, 50.0, 22.2));
        let middle = area("1000", 10.0, "", (50.0, 20.0, Anchor::Middle));
        assert_eq!((middle.left, middle.right), (38.0, 62.0));
        // Bold: 6.8 units each.
        assert_abs_diff_eq!(width("1000", 10.0, "b"), 27.2, epsilon = 1e-9);
    }

    #[test]
    fn the_lower_rank_stays_and_the_other_moves_or_goes() {
        let here = (10.0, 20.0, Anchor::Start);
        let there = (10.0, 60.0, Anchor::Start);
        let placed = place(
            vec![
                label("later", 2, &[here, there]),
                label("first", 1, &[here]),
                label("gone", 3, &[here]),
                label("outside", 0, &[(90.0, 20.0, Anchor::Start)]),
            ],
            &[],
            &[],
        );
        let texts: Vec<_> = placed.iter().map(|p| (p.text.as_str(), p.stand)).collect();
        assert_eq!(texts, [("first", here), ("later", there)]);
    }

    #[test]
    fn curves_are_left_free_where_that_can_be() {
        let here = (10.0, 20.0, Anchor::Start);
        let there = (10.0, 60.0, Anchor::Start);
        let curve = [Area::around((12.0, 18.0), 1.0)];
        let placed = place(vec![label("moves", 1, &[here, there])], &[], &curve);
        assert_eq!(placed[0].stand, there);
        let mut stays_out = label("goes", 1, &[here]);
        stays_out.clear = true;
        assert!(place(vec![stays_out], &[], &curve).is_empty());
        assert_eq!(
            place(vec![label("covers", 1, &[here])], &[], &curve).len(),
            1
        );
        assert!(place(vec![label("no", 1, &[here])], &curve, &[]).is_empty());
    }

    #[test]
    fn a_long_text_is_cut() {
        assert_eq!(cut("short", 10.0, "", 30.0), "short");
        // 8 characters of 6 units, room for 5: four and the ellipsis.
        assert_eq!(cut("abcdefgh", 10.0, "", 30.0), "abcd…");
        assert_eq!(width("観測", 10.0, ""), 20.0);
    }
}
