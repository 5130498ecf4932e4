//! Files of messages against the layout of WMO-No. 386 Att. II-15.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test stops at the first fault"
)]

use jiff::civil::date;
use proptest::prelude::*;

use super::{FrameError, Framed, bulletins, framed, general, is_framed, messages, running};
use crate::model::finding::Code;

/// Invented bulletins, as the command writes them.
const PLAIN: &[u8] = b"USXX01 ABCD 151200\r\r\nTTAA 65121 99011 NIL=\r\r\nUKXX01 ABCD 151200 CCA\r\r\nTTBB 65128 99011 NIL=\r\r\n";
const ENVELOPED: &[u8] =
    b"\x01\r\r\n007\r\r\nUSXX01 ABCD 151200\r\r\nTTAA 65121 99011 NIL=\r\r\n\x03";

#[test]
fn a_message_has_its_length_and_format_identifier() {
    let found = bulletins(PLAIN);
    assert_eq!(found.len(), 2);
    assert_eq!(found[1].heading.to_string(), "UKXX01 ABCD 151200 CCA");
    // By hand, format 01 (WMO-No. 386 Att. II-15: no starting line, no end of message):
    // CR CR LF 3, heading 18, CR CR LF 3, text "TTAA 65121 99011 NIL=" 21: 45 octets.
    assert_eq!(
        framed(&found[0]),
        b"0000004501\r\r\nUSXX01 ABCD 151200\r\r\nTTAA 65121 99011 NIL="
    );
    // Format 00: SOH 1, CR CR LF 3, nnn 3, CR CR LF 3, heading 18, CR CR LF 3, text 21,
    // CR CR LF 3, ETX 1: 56 octets.
    let enveloped = bulletins(ENVELOPED);
    assert_eq!(enveloped.len(), 1);
    assert_eq!(framed(&enveloped[0]), [b"0000005600", ENVELOPED].concat());
}

#[test]
fn two_enveloped_bulletins_are_two() {
    let both = [ENVELOPED, ENVELOPED].concat();
    let found = bulletins(&both);
    assert_eq!(found.len(), 2);
    assert!(found.iter().all(|bulletin| bulletin.octets == ENVELOPED));
}

#[test]
fn what_is_framed_is_read_again() {
    let found = bulletins(PLAIN);
    let mut file: Vec<u8> = found.iter().flat_map(framed).collect();
    assert!(is_framed(&file));
    // The dummy message of length zero, by bilateral agreement.
    file.extend(b"0000000001");
    file.extend(b"what follows is nothing");
    let (read, fault) = messages(&file);
    assert_eq!(fault, None);
    let headings: Vec<String> = read
        .iter()
        .map(|message| message.bulletin().unwrap().heading.to_string())
        .collect();
    assert_eq!(headings, ["USXX01 ABCD 151200", "UKXX01 ABCD 151200 CCA"]);
}

#[test]
fn a_file_that_is_cut_says_where() {
    let found = bulletins(PLAIN);
    let file: Vec<u8> = found.iter().flat_map(framed).collect();
    // The first message has 10 + 45 octets; the second loses its last five.
    let (read, fault) = messages(&file[..file.len() - 5]);
    assert_eq!(read.len(), 2);
    assert_eq!(
        fault,
        Some(FrameError::Cut {
            offset: 55,
            length: 49,
            there: 44
        })
    );
    let broken = [framed(&found[0]).as_slice(), b"000000xx01"].concat();
    let (read, fault) = messages(&broken);
    assert_eq!(read.len(), 1);
    assert_eq!(fault, Some(FrameError::NoLength { offset: 55 }));
    for not in [
        &b""[..],
        b"TTAA 65121",
        b"0000004502\r\r\n",
        b"0000004501TTAA",
        b"12345 67890",
    ] {
        assert!(!is_framed(not), "{not:?}");
    }
}

#[test]
fn names_follow_the_convention() {
    let found = bulletins(PLAIN);
    let made = date(2031, 1, 15).at(13, 2, 11, 0);
    // The pieces in the order of Att. II-15, as in a name seen in public traffic:
    // A_USCI01BABJ290000_C_RJTD_20191029010631_14.txt.
    assert_eq!(
        general(&found[0], made),
        "A_USXX01ABCD151200_C_ABCD_20310115130211.txt"
    );
    assert_eq!(
        general(&found[1], made),
        "A_UKXX01ABCD151200CCA_C_ABCD_20310115130211.txt"
    );
    assert_eq!(running("ABCD", 7, &found), "ABCD00000007.a");
    let mut mixed = found.clone();
    mixed[1].binary = true;
    assert_eq!(running("ABCD", 99_999_999, &mixed), "ABCD99999999.b");
    assert_eq!([0, 1, 99_999_999].map(super::names::next_number), [1, 2, 1]);
}

/// The limits are those of the table: 15,000 octets of text, 500,000 of BUFR.
#[test]
fn a_bulletin_at_the_limit_is_not_too_long() {
    let long = |n: usize| {
        let mut octets = b"USXX01 ABCD 151200\r\r\n".to_vec();
        octets.resize(n, b'=');
        octets
    };
    let found = |octets: &[u8]| bulletins(octets)[0].too_long();
    assert_eq!(found(&long(15_000)), None);
    assert!(found(&long(15_001)).unwrap().is(Code::BulletinTooLong));
}

proptest! {
    #[test]
    fn any_octets_are_read_or_refused(octets in prop::collection::vec(any::<u8>(), 0..200)) {
        let (read, _) = messages(&octets);
        let total: usize = read.iter().map(|Framed { octets, .. }| octets.len()).sum();
        prop_assert!(total <= octets.len());
        let _ = (bulletins(&octets), super::text_of(&octets), is_framed(&octets));
    }
}
