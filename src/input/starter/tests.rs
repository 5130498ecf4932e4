use super::*;

fn starter(kind: &str, form: Form) -> Starter {
    let mut starter = Starter::new(form);
    assert!(starter.set(KIND, kind).is_ok());
    starter
}

fn read(text: &str) -> Result<sheet::Sheet, SheetError> {
    sheet::read(&[Source {
        name: "s.toml",
        text,
    }])
    .map(|(sheet, _)| sheet)
}

/// The keys that a sheet names, given or not.
fn names(text: &str) -> Vec<&str> {
    text.lines()
        .filter_map(|line| line.trim_start_matches('#').split_once(" ="))
        .map(|(key, _)| key)
        .filter(|key| {
            key.chars()
                .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
        })
        .collect()
}

#[test]
fn every_kind_has_its_mandatory_keys_marked_and_no_key_of_another() {
    // WMO-No. 306: FM 35 and 32 name a station by IIiii; FM 36, 33 and 38, 34 by D....D,
    // FM 36 to 38 give the position, FM 38 and 34 the elevation with im; FM 37 names none.
    for (kind, mandatory, others) in [
        (
            "land",
            vec!["wmo_block", "wmo_number", "release"],
            vec!["call_sign", "elevation_quality", "sea_temperature_c"],
        ),
        (
            "ship",
            vec!["call_sign", "latitude_deg", "longitude_deg", "release"],
            vec!["wmo_block", "elevation_m"],
        ),
        (
            "mobile",
            vec![
                "call_sign",
                "latitude_deg",
                "longitude_deg",
                "elevation_m",
                "elevation_quality",
                "release",
            ],
            vec!["wmo_block", "sea_temperature_c"],
        ),
        (
            "drop",
            vec!["latitude_deg", "longitude_deg", "release"],
            vec!["call_sign", "wmo_block", "nh", "gas_kg", "pressure_hpa"],
        ),
    ] {
        for form in [Form::Temp, Form::Pilot] {
            let text = starter(kind, form).print("");
            let marked = text.lines().filter(|line| line.ends_with(MARK));
            let marked: Vec<&str> = marked.filter_map(|line| line.split(' ').next()).collect();
            assert_eq!(marked, mandatory, "{kind} {form:?}");
            let names = names(&text);
            for other in &others {
                assert!(!names.contains(other), "{kind} {form:?} {other}");
            }
            assert_eq!(names.contains(&"pilot_levels"), form == Form::Pilot);
            assert_eq!(
                names.contains(&"humidity_min_temperature_c"),
                form == Form::Temp
            );
            assert_eq!(names.contains(&"nh"), form == Form::Temp && kind != "drop");
            // The reader misses the same.
            let missed = read(&text).unwrap_err();
            assert_eq!(missed.faults().len(), mandatory.len(), "{missed}");
            let given = text.lines().map(|line| {
                let value = match line.split(' ').next() {
                    _ if !line.ends_with(MARK) => return line.to_owned(),
                    Some("release") => "\"2031-01-15T11:23:40Z\"",
                    Some("call_sign") => "\"XXXX9\"",
                    _ => "7",
                };
                line.replace("\"\"", value)
            });
            read(&given.collect::<Vec<_>>().join("\n")).unwrap();
        }
    }
}

#[test]
fn every_key_with_a_code_table_has_its_figures_in_words() {
    let text = starter("mobile", Form::Temp).print("");
    // Code tables 2700, 3849 and 0 02 084 and C-7 as under tables/.
    for line in ["#   8 = ", "#   1 = helium", "#   4 = "] {
        assert!(text.contains(line), "{line}: {text}");
    }
    for table in tables() {
        for key in keys_of(table) {
            let stated = ["table", "0 02 ", "0 35 035"]
                .iter()
                .any(|word| key.about.contains(word));
            let words = figures::of(&key);
            let whole = matches!(key.kind, KeyKind::Integer(..));
            // Names of sondes, makers and receivers are in the tables of WMO alone.
            let named = ["radiosonde", "receiver", "maker"];
            let named = named.iter().any(|name| key.name.ends_with(name));
            assert_eq!(!words.is_empty(), stated && whole && !named, "{}", key.name);
        }
    }
}

#[test]
fn keys_stand_in_the_order_of_their_definition() {
    let tables = order::tables();
    let names: Vec<&str> = tables.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(names[..4], ["station", "flight", "profile", "surface"]);
    let (_, station) = &tables[0];
    assert_eq!(station[..3], ["kind", "wmo_block", "wmo_number"]);
    let (_, surface) = &tables[3];
    assert_eq!(surface[0], "pressure_hpa");
    // Every key of the schema is there, but those that are written only when they are set.
    for (table, keys) in &tables {
        for key in keys_of(table) {
            let name = key.name.split_once('.').unwrap().1;
            let left_out = ["surfaces_by_height", "repeat_early", "practice"].contains(&name);
            assert_eq!(keys.iter().any(|k| k == name), !left_out, "{}", key.name);
        }
    }
}

fn of_file(text: &str) -> Starter {
    let mut starter = Starter::new(Form::Temp);
    let why = starter
        .profile(text.as_bytes(), "x.csv", Format::Text, None)
        .unwrap();
    assert_eq!(why, None);
    starter
}

fn get(starter: &Starter, keys: [&str; 4]) -> [String; 4] {
    keys.map(|key| starter.draft.get(key))
}

const FOUND: [&str; 4] = [
    "station.latitude_deg",
    "station.longitude_deg",
    "station.elevation_m",
    "flight.release",
];

#[test]
fn position_elevation_and_release_are_those_of_the_file() {
    // Invented.
    let rows = of_file(
        "UTC;Lat;Lon;Alt [m];P\n2031-01-15T11:23:40Z;51,25001;356,6;84,04;1000\n2031-01-15T11:23:41Z;51,2501;356,6;89;999\n",
    );
    assert_eq!(
        get(&rows, FOUND),
        ["51.25", "-3.4", "84", "2031-01-15T11:23:40Z"]
    );
    assert_eq!(rows.missing().len(), 2);
    let text = rows.print("");
    assert!(
        text.contains("latitude_deg = 51.25  # from the first row that has it"),
        "{text}"
    );
    // Lines above the rows go before the rows, and the day stands in a column of its own.
    let stated = of_file(
        "# latitude: 51.3 N\n# Station longitude = 3.5 W\n# elevation_m: 90\n# altitude: 86 m\n# launch time: soon\nDate,Time,P,T\n15.01.2031,23:59:50,1000,4\n15.01.2031,23:59:51,999,4\n16.01.2031,00:00:00,998,4\n",
    );
    assert_eq!(
        get(&stated, FOUND),
        ["51.3", "-3.5", "86", "2031-01-15T23:59:50Z"]
    );
    let launch =
        of_file("# launch_time_utc: 2031-01-15T11:23:40Z\ntime_s,pressure_hpa\n0,1000\n1,999\n");
    assert_eq!(get(&launch, FOUND), ["", "", "", "2031-01-15T11:23:40Z"]);
    // Lines above the header that are no comments.
    let above = of_file(
        "Invented Field\nDate: 2031-01-15\nLatitude: 51.25 N\nLongitude: -3.4\nAltitude: 84 m\n\nUTC;P;T [C]\n11:23:40;1000;4\n11:23:41;999;4\n11:23:42;998;4\n",
    );
    assert_eq!(
        get(&above, FOUND),
        ["51.25", "-3.4", "84", "2031-01-15T11:23:40Z"]
    );
    assert!(above.print("").contains("skip_lines = 6\n"));
    // A sonde that falls does not begin on the ground.
    let drop = of_file("time_s,altitude_m,pressure_hpa\n0,9000,300\n1,8990,301\n");
    assert_eq!(get(&drop, FOUND)[2], "");
}

#[test]
fn a_value_that_cannot_stand_there_changes_nothing() {
    let mut starter = starter("land", Form::Temp);
    for (key, value) in [
        ("station.wmo_block", "100"),
        ("station.wmo_block", "ten"),
        ("station.kind", "tower"),
        ("flight.release", "noon"),
    ] {
        let before = starter.print("");
        assert!(
            matches!(starter.set(key, value), Err(NotSet::Value(_))),
            "{key}"
        );
        assert_eq!(starter.print(""), before);
    }
    for key in ["", "station", "station.block", "level.action", "text.names"] {
        let Err(NotSet::NoKey(known)) = starter.set(key, "1") else {
            panic!("{key}");
        };
        assert!(known.contains("station"), "{known}");
    }
}

proptest::proptest! {
    #[test]
    fn any_bytes_give_a_sheet_or_are_refused(
        bytes in proptest::collection::vec(proptest::prelude::any::<u8>(), 0..200),
        text in "[-0-9.,:;#= \\t\\nTPlatonUC°\u{2212}]{0,200}",
    ) {
        for bytes in [bytes.as_slice(), text.as_bytes()] {
            let mut starter = Starter::new(Form::Temp);
            let _ = starter.profile(bytes, "x", Format::Text, None);
            let text = starter.print("");
            let file = Source { name: "x", text: &text };
            proptest::prop_assert!(sheet::joined(&[file]).is_ok(), "{}", text);
        }
    }
}
