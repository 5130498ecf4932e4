//! Memory that the choice of levels takes for each row.
//!
//! Why there is a bound: eight columns of 8 bytes, and of the rows of one part, the curve
//! with its sums (12 numbers), its corners and what is kept of a point. Levels come on top:
//! however many rows there are, the code can tell 2,000 pressures apart.

use fivefig::levels;
use fivefig::model::{Coding, Profile, Reach};

use crate::flights::{Kind, ascent};
use crate::peak;

const ROWS: u32 = 50_000;
/// Bytes a row.
const MOST: usize = 250;

#[test]
fn random_rows_take_less_than_a_line_of_text_each() {
    let _alone = crate::alone();
    let profile = ascent(Kind::Random, ROWS);
    let coding = Coding::default();
    let choose = |profile: &Profile| levels::choose(profile, &coding, &[], Reach::Whole);
    // Tables are read on first use and stay.
    choose(&ascent(Kind::Random, 100));
    let (most, chosen) = peak(|| choose(&profile));
    assert!(chosen.levels.len() > 1_000);
    let each = most / profile.rows.len();
    println!("{} levels, {each} bytes a row", chosen.levels.len());
    assert!(each <= MOST, "{each}");
}
