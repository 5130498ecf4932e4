use super::*;
use crate::forms::text::parse;

/// The meanings of a part of a message as text, by the report it gives.
fn reported(text: &str, part: Part) -> Vec<GroupMeaning> {
    let message = parse(text).unwrap();
    message.meanings(part, &message.report()).unwrap()
}

/// What the first run of these groups says.
fn says(reported: &[GroupMeaning], groups: &str) -> Vec<String> {
    let groups: Vec<&str> = groups.split(' ').collect();
    let run = reported
        .windows(groups.len())
        .find(|run| {
            run.iter()
                .map(|t| t.group.as_str())
                .eq(groups.iter().copied())
        })
        .unwrap_or_else(|| panic!("{groups:?} is not there"));
    run.iter().map(|t| t.meaning.clone()).collect()
}

/// British Antarctic Survey, meteorology web page, sample data file: Marion Island
/// 68994, Part A, with the table of its values beside it.
const PUBLISHED: &str = "TTAA  66001 68994 99011 10427 34019
00117 09632 34019 92767 10429 01022 85465 06437 35034
70049 03886 35035 50568 15769 34536 40733 26763 34538
30933 42958 32544 25054 52158 31550 20194 62958 32549
15373 59799 31550 10625 61399 31546 88999 77999=";

#[test]
fn a_published_message_says_what_its_table_says() {
    let reported = reported(PUBLISHED, Part::A);
    // Published as station 68994, day 16, hour 00; speeds coded in knots.
    let head = says(&reported, "TTAA 66001 68994");
    assert!(head[0].starts_with("TEMP, Part A: surface, standard surfaces"));
    assert!(head[1].starts_with("day 16 of the month, 00 UTC; speeds in knots"));
    assert!(head[1].ends_with("winds up to 100 hPa"));
    assert_eq!(head[2], "station: block 68, number 994");
    // hPa, gpm, °C, depression K, direction as published; 19 kt is 10 m/s.
    assert_eq!(
        says(&reported, "99011 10427 34019"),
        [
            "surface, 1011 hPa",
            "temperature 10.4 °C, dew point 2.7 K lower",
            "wind from 340°, 19 kt"
        ]
    );
    assert_eq!(
        says(&reported, "92767 10429 01022"),
        [
            "925 hPa at 767 gpm",
            "temperature 10.4 °C, dew point 2.9 K lower",
            "wind from 010°, 22 kt"
        ]
    );
    assert_eq!(
        says(&reported, "70049 03886 35035"),
        [
            "700 hPa at 3049 gpm",
            "temperature 3.8 °C, dew point 36 K lower",
            "wind from 350°, 35 kt"
        ]
    );
    for (groups, gpm) in [
        ("85465", "850 hPa at 1465 gpm"),
        ("50568", "500 hPa at 5680 gpm"),
        ("25054", "250 hPa at 10540 gpm"),
        ("10625", "100 hPa at 16250 gpm"),
    ] {
        assert_eq!(says(&reported, groups), [gpm]);
    }
    assert_eq!(
        says(&reported, "10625 61399 31546 88999 77999")[1..],
        [
            "temperature \u{2212}61.3 °C, dew point 49 K lower",
            "wind from 315°, 46 kt",
            "no tropopause in this part",
            "no maximum wind in this part"
        ]
    );
}

#[test]
fn winds_by_height_of_a_handbook() {
    // US Navy, Aerographer's Mate Module 2 (NAVEDTRA 14270), page 43: `91246 27575
    // 27090 26606` is 12 000 ft 275/75 kt, 14 000 ft 270/90, 16 000 ft 265/106. The
    // unit of tnu is 300 m (WMO-No. 306, 32.2.4): 12, 14 and 16 units.
    let text = "PPBB 56008 72694 90012 29006 27508 26008 91246 27575 27090 26606=";
    let reported = reported(text, Part::B);
    assert_eq!(
        says(&reported, "91246 27575 27090 26606"),
        [
            "winds at 3600 m, 4200 m and 4800 m follow; heights in steps of 300 m",
            "at 3600 m: wind from 275°, 75 kt",
            "at 4200 m: wind from 270°, 90 kt",
            "at 4800 m: wind from 265°, 106 kt"
        ]
    );
    assert_eq!(
        says(&reported, "90012 29006")[1],
        "at the surface: wind from 290°, 6 kt"
    );
    let head = reported.iter().find(|t| t.group == "91246").unwrap();
    assert_eq!(head.levels, [3, 4, 5]);
    let second = reported.iter().find(|t| t.group == "27090").unwrap();
    assert_eq!(second.levels, [4]);
}

#[test]
fn winds_at_surfaces_of_a_handbook() {
    // The same, page 42, with the indicator 44 that 32.2.2.1 asks for: 1000 hPa
    // is no surface of PILOT now, so the example begins at 925 hPa there and at
    // 850 hPa here; 080/58 and 065/101 are its winds.
    let text = "PPAA 56008 72694 44285 08058 06601 77999=";
    let reported = reported(text, Part::A);
    assert_eq!(
        says(&reported, "44285 08058 06601 77999"),
        [
            "winds at 850 and 700 hPa follow; found by pressure equipment",
            "at 850 hPa: wind from 080°, 58 kt",
            "at 700 hPa: wind from 065°, 101 kt",
            "no maximum wind in this part"
        ]
    );
    assert_eq!(reported[3].levels, [0, 1]);
}

#[test]
fn the_tail_of_a_message() {
    // Salem 72694 as archived (comments of an open model's input reader); read by
    // the tables: sr 5, rara 82, sasa 08, 23:26 UTC; 221 hPa 235/63 kt with shears
    // 3 and 11; Nh 2, CL 1, h 7, CM 0, CH 1.
    let text = "TTAA 56001 72694 99009 22868 29006 10637 567// 22531 88185 62963 23051
        77221 23563 40311 31313 58208 82326 51515 10164 00012=
        TTBB 56008 72694 00009 22868 11999 20467 31313 58208 82326 41414 21701=";
    let a = reported(text, Part::A);
    assert_eq!(
        says(&a, "10637 567//")[1],
        "temperature \u{2212}56.7 °C, humidity missing"
    );
    assert_eq!(
        says(&a, "77221 23563 40311"),
        [
            "maximum wind, at 221 hPa",
            "wind from 235°, 63 kt",
            "vector difference of the wind to that 1 km below: 3 kt; to that 1 km above: 11 kt"
        ]
    );
    let tail = says(&a, "31313 58208 82326 51515 10164 00012");
    assert_eq!(
        tail[1],
        "radiation: solar alone corrected by the sounding system itself; sonde 82 of Common \
         Code Table C-2; tracking: automatic, satellite navigation"
    );
    assert_eq!(tail[2], "released at 23:26 UTC");
    assert_eq!(tail[4], "of the Region, as given");
    let b = reported(text, Part::B);
    assert_eq!(says(&b, "00009 22868")[0], "surface, 1009 hPa");
    assert_eq!(says(&b, "11999")[0], "significant level at 999 hPa");
    let clouds = &says(&b, "41414 21701")[1];
    assert!(clouds.starts_with(
        "cloud amount: 2 oktas (low, or else middle, cloud); low cloud: cumulus, flat"
    ));
    assert!(
        clouds
            .contains("cloud base: 1500 to 2000 m above the ground; middle cloud: no middle cloud")
    );
}

#[test]
fn a_drop_says_where_it_is() {
    // Dropsonde of 13 September 1999 (AOML/HRD page "NHOP sonde drop format"):
    // 25.6° N 77.5° W, quadrant 7, square 80, units 5 and 7.
    let text = "XXAA  63183 99256 70775 08057 99007 28448 01027 00064 28047 01028
        92752 22419 02525 85484 18448 04532 70127 10258 04029 50585 04159
        03530 40757 15371 03029 30968 30371 00526 88999 77999=";
    let reported = reported(text, Part::A);
    assert!(reported[0].meaning.starts_with("TEMP DROP, Part A"));
    assert_eq!(
        says(&reported, "99256 70775 08057"),
        [
            "latitude 25.6° N",
            "quadrant 7 of the globe (N, W), longitude 77.5° W",
            "the same place in Marsden square 80: whole degrees end in 5 and 7"
        ]
    );
}
