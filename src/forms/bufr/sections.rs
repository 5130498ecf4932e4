//! Sections as they lie in a message, and what section 1 says.

use super::{BufrError, Fault, Section1};

/// Where a section begins and ends, in octets of the message.
pub(super) struct Section<'a> {
    pub(super) number: u8,
    pub(super) start: usize,
    pub(super) bytes: &'a [u8],
}

impl<'a> Section<'a> {
    /// A section that begins with its own length.
    pub(super) fn take(
        number: u8,
        message: &'a [u8],
        start: usize,
        least: usize,
    ) -> Result<(Self, usize), BufrError> {
        let rest = message.get(start..).unwrap_or_default();
        // Section 5 comes after all.
        let most = rest.len().saturating_sub(4);
        let short = Fault::Short {
            needs: start + least + 4,
            has: message.len(),
        };
        let [a, b, c, ..] = *rest else {
            return Err(short.at(number, 8 * start));
        };
        let length = usize::from(a) << 16 | usize::from(b) << 8 | usize::from(c);
        if least > most {
            return Err(short.at(number, 8 * start));
        }
        let bytes = rest
            .get(..length)
            .filter(|_| (least..=most).contains(&length));
        let bytes = bytes.ok_or_else(|| {
            let fault = Fault::SectionLength {
                length,
                least,
                most,
            };
            fault.at(number, 8 * start)
        })?;
        let section = Self {
            number,
            start,
            bytes,
        };
        Ok((section, start + length))
    }

    /// Octet of the section, from 1 as the tables count; 0 where there is none.
    pub(super) fn octet(&self, number: usize) -> u8 {
        self.bytes.get(number - 1).copied().unwrap_or(0)
    }

    pub(super) fn two(&self, number: usize) -> u16 {
        u16::from(self.octet(number)) << 8 | u16::from(self.octet(number + 1))
    }

    pub(super) fn fault(&self, octet: usize, fault: Fault) -> BufrError {
        fault.at(self.number, 8 * (self.start + octet - 1))
    }
}

/// Section 1, and whether a section 2 follows.
pub(super) fn section1(one: &Section<'_>, edition: u8) -> (Section1, bool) {
    if edition == 4 {
        let section1 = Section1 {
            master_table: one.octet(4),
            centre: one.two(5),
            sub_centre: one.two(7),
            update: one.octet(9),
            category: one.octet(11),
            subcategory: one.octet(12),
            local_subcategory: one.octet(13),
            table_version: one.octet(14),
            local_version: one.octet(15),
            year: one.two(16),
            month: one.octet(18),
            day: one.octet(19),
            clock: [one.octet(20), one.octet(21), one.octet(22)],
        };
        return (section1, one.octet(10) & 0x80 != 0);
    }
    // Editions 2 and 3: one sub-category (local), the year of the century from 1 to
    // 100. Its years are those from 1951 to 2050 (our choice). Edition 2 has its centre
    // in two octets, edition 3 a sub-centre and a centre of one.
    let year = u16::from(one.octet(13));
    let century = if year > 50 { 1900 } else { 2000 };
    let all = |octet: u8| {
        if octet == u8::MAX {
            u16::MAX
        } else {
            u16::from(octet)
        }
    };
    let section1 = Section1 {
        master_table: one.octet(4),
        centre: match edition {
            2 if one.octet(5) > 0 => one.two(5),
            _ => all(one.octet(6)),
        },
        sub_centre: match edition {
            2 => 0,
            _ => u16::from(one.octet(5)),
        },
        update: one.octet(7),
        category: one.octet(9),
        subcategory: u8::MAX,
        local_subcategory: one.octet(10),
        table_version: one.octet(11),
        local_version: one.octet(12),
        year: if year == 100 { 2000 } else { century + year },
        month: one.octet(14),
        day: one.octet(15),
        clock: [one.octet(16), one.octet(17), 0],
    };
    (section1, one.octet(8) & 0x80 != 0)
}
