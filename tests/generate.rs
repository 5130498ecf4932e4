//! The files in `samples/` are what the invented ascents of `tests/scene` give,
//! byte for byte, and have the features they were made for.
//!
//! `FIVEFIG_WRITE_SAMPLES=1 cargo test --test generate` writes them anew.

#[path = "scene/scene.rs"]
mod scene;

use std::fs;
use std::path::PathBuf;

fn path(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("samples")
        .join(name)
}

#[test]
fn samples_are_what_the_scenes_give() {
    let write = std::env::var_os("FIVEFIG_WRITE_SAMPLES").is_some();
    for scene in scene::catalogue::ALL {
        let fresh = scene::print::file(scene);
        let path = path(&format!("{}.csv", scene.name));
        if write {
            fs::write(&path, &fresh).expect("samples can be written");
        }
        let kept = fs::read_to_string(&path).expect("the sample is there");
        let differs = kept.lines().zip(fresh.lines()).position(|(a, b)| a != b);
        assert_eq!(differs, None, "{}: first differing line", scene.name);
        assert_eq!(kept.len(), fresh.len(), "{}: length", scene.name);
    }
}
