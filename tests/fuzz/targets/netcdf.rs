//! Any octets as NetCDF: read or refused, and never more rows than octets could
//! stand for; variables are reported wherever a profile is read.
#![no_main]

use fivefig::input::{Format, netcdf, read};
use fivefig::model::Reading;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|octets: &[u8]| {
    let reading = Reading::default();
    let reported = netcdf::columns(octets, "fuzz", None, &reading);
    for number in [None, Some(1), Some(2)] {
        let Ok(contents) = read(octets, "fuzz", Format::NetCdf, number, &reading) else {
            continue;
        };
        assert!(netcdf::is_netcdf(octets));
        assert!(contents.raw.rows.len() <= octets.len());
        if number.is_none() {
            let reported = reported.as_ref().map(|t| t.columns.len());
            assert_eq!(reported, Ok(contents.columns.len()));
        }
    }
});
