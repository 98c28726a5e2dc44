//! The demo folder: the flags that are meant, and no other.

use std::path::Path;

use taperbook_testkit::demo::FLAGGED;

use taperbook_plugin::Source;
use taperbook_record::Kind;

use super::Texts;

/// The committed folder, which a test of its generator holds to what that makes.
fn demo() -> Texts {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../vault-example");
    let read = |path: &str| {
        let text =
            std::fs::read_to_string(root.join(path)).expect("a file of the demo can be read");
        (path.to_owned(), text)
    };
    let files = ["blanks", "builds", "offcuts"].into_iter().flat_map(|folder| {
        let entries = std::fs::read_dir(root.join(folder)).expect("the demo has its folders");
        entries.map(move |entry| {
            let name = entry.expect("it can be listed").file_name();
            format!("{folder}/{}", name.to_string_lossy())
        })
    });
    let files = files.chain(["shop.yaml".to_owned()]).map(|path| read(&path));
    files.fold(Texts::default(), |shop, (path, text)| shop.with_any(&path, &text))
}

#[test]
fn the_demo_has_its_three_flags_and_no_other() {
    let shop = demo();
    assert!(40 <= shop.shelf.all(Kind::Build).len());
    let found: Vec<(String, String)> = shop
        .texts
        .keys()
        .flat_map(|id| {
            shop.flags(id).into_iter().map(move |finding| (format!("{id}.md"), finding.message))
        })
        .collect();
    let [oskar, ruben, detlef] = FLAGGED.map(str::to_owned);
    assert_eq!(
        found,
        [
            (detlef, "length reads 6'9 1/2\" in item 8, 1 1/2\" more than the 6'8\" that the length in item 1 and the cuts since give: the butt cut of 1 1/2 in is likely logged twice, in items 6 and 7".to_owned()),
            (oskar, "length is 6'2\" as read, 2\" below the shortest allowed 6'4\": crossed by the butt cut of 1 1/2 in (item 6, 2025-09-13)".to_owned()),
            (ruben, "power is 118 g as read, 13 g above the most allowed 105 g: crossed by the tip cut of 1 1/2 in (item 6, 2025-11-29)".to_owned()),
        ]
    );
}
