use super::*;

#[test]
fn faults_name_file_and_line() {
    const RUN: Order = Order::Run(&[(0, 2), (5, 6)]);
    for (text, group, order, fault) in [
        (
            "# x\na,b\n1,2",
            0,
            Order::Unique,
            "t.csv:3: no line feed at the end of the file",
        ),
        (
            "",
            0,
            Order::Unique,
            "t.csv:1: no line feed at the end of the file",
        ),
        (
            "a,b\n1,2\n",
            0,
            Order::Unique,
            "t.csv:1: no header comment: the file must start with `#`, document and date",
        ),
        (
            "\u{feff}# x\na,b\n1,2\n",
            0,
            Order::Unique,
            "t.csv:1: no header comment: the file must start with `#`, document and date",
        ),
        ("# x\n", 0, Order::Unique, "t.csv:1: no rows"),
        ("# x\na,b\n", 0, Order::Unique, "t.csv:2: no rows"),
        (
            "# x\na,c\n1,2\n",
            0,
            Order::Unique,
            "t.csv:2: columns are `a,c`, not `a,b`",
        ),
        ("# x\na,b\n\n1,2\n", 0, Order::Unique, "t.csv:3: blank line"),
        ("# x\na,b\n1,2\n\n", 0, Order::Unique, "t.csv:4: blank line"),
        (
            "# x\na,b\n# y\n1,2\n",
            0,
            Order::Unique,
            "t.csv:3: comment below the column names",
        ),
        (
            "# x\na,b\r\n1,2\n",
            0,
            Order::Unique,
            "t.csv:2: carriage return: lines end with a line feed alone",
        ),
        (
            "# x\na,b\n1\n",
            0,
            Order::Unique,
            "t.csv:3: 1 fields where there are 2 columns",
        ),
        (
            "# x\na,b\n1,2,\n",
            0,
            Order::Unique,
            "t.csv:3: 3 fields where there are 2 columns",
        ),
        (
            "# x\na,b\n1,\"2\n",
            0,
            Order::Unique,
            "t.csv:3: quote never closed in field 2",
        ),
        (
            "# x\na,b\n\"1\"2,3\n",
            0,
            Order::Unique,
            "t.csv:3: text after the closing quote of field 1",
        ),
        (
            "# x\na,b\n1,2\"\n",
            0,
            Order::Unique,
            "t.csv:3: quote inside field 2",
        ),
        (
            "# x\na,b\n1, 2\n",
            0,
            Order::Unique,
            "t.csv:3: space at the edge of field 2",
        ),
        (
            "# x\na,b\n,2\n",
            0,
            Order::Unique,
            "t.csv:3: the key is empty",
        ),
        (
            "# x\na,b\nm,2\nn,2\nm,2\n",
            0,
            Order::Unique,
            "t.csv:5: key `m` stands twice, first on line 3",
        ),
        (
            "# x\na,b\n1,2\n1.0,2\n",
            0,
            Order::Rising,
            "t.csv:4: key `1.0` stands twice",
        ),
        (
            "# x\na,b\n1,2\n0,2\n",
            0,
            Order::Rising,
            "t.csv:4: key `0` after `1`: keys must rise",
        ),
        (
            "# x\na,b\n1,2\n3,2\n",
            0,
            Order::Falling,
            "t.csv:4: key `3` after `1`: keys must fall",
        ),
        (
            "# x\na,b\nm,2\n",
            0,
            Order::Falling,
            "t.csv:3: key `m` is not a number in range",
        ),
        (
            "# x\na,b\n0,2\n2,2\n",
            0,
            RUN,
            "t.csv:4: key `2` where `1` must stand",
        ),
        (
            "# x\na,b\n0,2\n0,2\n",
            0,
            RUN,
            "t.csv:4: key `0` stands twice",
        ),
        (
            "# x\na,b\n0,2\n1,2\n2,2\n3,2\n",
            0,
            RUN,
            "t.csv:6: key `3` where `5` must stand",
        ),
        (
            "# x\na,b\n0,2\n1,2\n2,2\n5,2\n",
            0,
            RUN,
            "t.csv:6: the table ends before key `6`",
        ),
        (
            "# x\na,b\n0,2\n1,2\n2,2\n5,2\n6,2\n7,2\n",
            0,
            RUN,
            "t.csv:8: key `7` is past the last",
        ),
        (
            "# x\na,b\n-1,2\n",
            0,
            RUN,
            "t.csv:3: key `-1` is not a number in range",
        ),
        (
            "# x\na,b\nm,2\nn,2\nm,3\n",
            1,
            Order::Rising,
            "t.csv:5: group `m` comes back after another",
        ),
        (
            "# x\na,b\nm,2\nm,1\n",
            1,
            Order::Rising,
            "t.csv:4: key `1` after `2`: keys must rise",
        ),
    ] {
        let file = File {
            name: "t.csv",
            text,
        };
        let shape = Shape {
            columns: &["a", "b"],
            group,
            order,
        };
        assert_eq!(
            rows(file, shape).unwrap_err().to_string(),
            fault,
            "{text:?}"
        );
    }
}

#[test]
fn cells_are_read_strictly() {
    let file = File {
        name: "t.csv",
        text: "# x\na,b\n1,\"two, three\"\n2,\n300,x\n",
    };
    let shape = Shape {
        columns: &["a", "b"],
        group: 0,
        order: Order::Rising,
    };
    let rows = rows(file, shape).unwrap();
    assert_eq!(rows[0].text("b"), Ok("two, three"));
    assert_eq!(rows[1].optional("b"), Ok(None));
    assert_eq!(rows[1].optional_number::<u8>("b"), Ok(None));
    for (fault, expected) in [
        (rows[1].text("b").unwrap_err(), "t.csv:4: `b` is empty"),
        (
            rows[1].number::<u8>("b").unwrap_err(),
            "t.csv:4: `b` is empty",
        ),
        (
            rows[2].number::<u8>("a").unwrap_err(),
            "t.csv:5: `a` is `300`, not a number in range",
        ),
        (
            rows[2].word("b", &[("y", 1), ("z", 2)]).unwrap_err(),
            "t.csv:5: `b` is `x`, not one of y z",
        ),
        (rows[2].text("c").unwrap_err(), "t.csv:5: no column `c`"),
    ] {
        assert_eq!(fault.to_string(), expected);
    }
}
