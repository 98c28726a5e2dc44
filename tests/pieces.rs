//! A blank in two pieces: marks on the pieces apart, and flags before a cut goes into the joint or the spliced tip.

use crate::workshop::Workshop;

const CARD: &str = "---
kind: blank
length: 84 in
pieces: 2
material: carbon
tip: solid
held_at: 9 in
calipers:
  - { at: 0 in, od: 11 mm, wall: 0.9 mm }
  - { at: 84 in, od: 2 mm }
joints: [{ at: 42 in, type: ferrule, overlap: 3 in }]
---
";

fn workshop(bench: &str) -> Workshop {
    let workshop = Workshop::demo();
    workshop.write("blanks/two.md", CARD);
    let text = format!(
        "---\nkind: build\nblank: two\nbench:\n  - read: {{ length: 84 in }}\n{bench}---\n"
    );
    workshop.write("builds/ada-two.md", &text);
    workshop
}

/// The tip piece begins where the overlap does, at 40 1/2 in; the butt piece ends where it ends, at 43 1/2 in.
#[test]
fn marks_are_told_on_the_pieces_apart() {
    let workshop = workshop("");
    let sheet =
        workshop.run(&["sheet", "ada-two", "--tip", "1/2in", "--butt", "2in", "--json"]).ended(0);
    let steps = &sheet.json()["marks"]["steps"];
    let joint = |step: usize| steps[step]["from_joint_mm"].as_f64().expect("it has a joint");
    assert!((joint(0) - (83.5 - 40.5) * 25.4).abs() < 1e-6, "{steps:#}");
    assert!((joint(1) - (43.5 - 2.0) * 25.4).abs() < 1e-6, "{steps:#}");
    workshop
        .run(&["sheet", "ada-two", "--tip", "1/2in"])
        .ended(0)
        .says("43 in (1092.2 mm) from the joint's end")
        .says("the blank is in pieces");
    let whole = workshop.run(&["sheet", "ilse-heron", "--tip", "1/2in"]).ended(0);
    assert!(!whole.stdout.contains("piece alone"), "{}", whole.told());
}

#[test]
fn a_plan_into_the_joint_or_the_spliced_tip_is_flagged_before_the_saw() {
    workshop("  - plan: { butt: 41 in }\n")
        .run(&["check", "builds/ada-two.md"])
        .ended(1)
        .says("cut-into-joint");
    workshop("  - plan: { tip: 1 in }\n")
        .run(&["check", "builds/ada-two.md"])
        .ended(1)
        .says("cut-into-solid-tip");
    for flag in [
        "cut-into-joint",
        "cut-into-solid-tip",
        "no-tip-top-fits",
        "butt-too-large",
        "no-seat-fits",
    ] {
        workshop("").run(&["explain", flag]).ended(0).says("finds").says("why").says("example");
    }
}
