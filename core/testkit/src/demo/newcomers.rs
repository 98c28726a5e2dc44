//! The builds on the models that the demo shop hardly knows yet: dipper-604, curlew-802 and snipe-609.

use super::job::{Ask, FIRST, Job, LAST, TIP};

pub(super) fn jobs() -> Vec<Job> {
    vec![mats(), nora(), ottilie(), pelle(), quirin(), udo(), viola(), wanda()]
}

fn mats() -> Job {
    Job::new("mats-dipper", "dipper-604")
        .wanted("Mats", "tiny jigs for perch, cold water, gloves", "2024-11-16")
        .also("lure: 0.5 g .. 3 g")
        .held(None)
        .read(FIRST)
        .settled("tip", "the splice starts a hand below and nobody saws there")
        .day("2024-11-17")
        .butt(3.0)
        .read(LAST)
        .feel("the solid end folds like a reed, the rest stays awake")
        .length_around(1.5, 1.5)
        .power_around(0.16)
        .aim(0.0, 1.0)
        .told("2024-11-24 sends pictures of very small perch")
        .ended("keep", 5)
        .body(
            r"# Mats, solid tip

From the butt only. A butt cut on this one changes the lever and next to nothing else, which the board confirms: a couple of grams less on a shorter rod.
",
        )
}

fn nora() -> Job {
    Job::new("nora-dipper", "dipper-604")
        .wanted("Nora", "minnows and vanity, she says", "2026-02-28")
        .held(None)
        .read(FIRST)
        .plan(0.0, 2.0)
        .settled("tip", "spliced and staying so")
        .still(0.0, 2.0)
        .length_around(2.0, 1.5)
        .power_around(0.16)
        .aim(0.0, 1.0)
        .body(
            r"The seat decides the butt cut and the seat is on its way.
",
        )
}

fn ottilie() -> Job {
    Job::new("ottilie-curlew", "curlew-802")
        .wanted("Ottilie", "barbless spoons in the big river, salmon parr must live", "2024-03-02")
        .held(None)
        .read(FIRST)
        .tip(1.0)
        .read(TIP)
        .day("2024-03-03")
        .tip(0.5)
        .read(TIP)
        .butt(2.0)
        .read(LAST)
        .feel("broad shoulders, soft voice")
        .length_around(2.0, 2.0)
        .power_around(0.12)
        .aim(0.0, 1.0)
        .told("2024-03-16 took it to the river before the varnish was hard")
        .ended("keep", 4)
        .body(
            r"# Ottilie, big river

Two diameters on the card and nothing about the wall: I worked from the board alone.
Cut, hang, cut, hang. It works as long as one is not in a hurry.
",
        )
}

fn pelle() -> Job {
    Job::new("pelle-curlew", "curlew-802")
        .wanted("Pelle", "coalfish from the rocks, heavy spoons", "2024-12-07")
        .held(None)
        .read(&[Ask::Length, Ask::TipOd, Ask::ButtOd, Ask::Weight, Ask::Power, Ask::Angle])
        .day("2024-12-08")
        .tip(1.5)
        .read(TIP)
        .tip(1.0)
        .read(TIP)
        .feel("hits the water where the eye was")
        .butt(1.0)
        .read(LAST)
        .length_around(2.0, 2.0)
        .power_around(0.12)
        .tip_up_to(0.3)
        .aim(0.0, 0.98)
        .told("2024-12-21 good in the cold, he says, as if it were the rod's doing")
        .ended("keep", 4)
        .body(
            r"Two and a half inches in all, which this long blank carries.
Still not measured for the wall. Next time.
",
        )
}

fn quirin() -> Job {
    Job::new("quirin-curlew", "curlew-802")
        .wanted("Quirin", "spoons for lake trout from an anchored boat", "2026-05-09")
        .held(None)
        .read(&[Ask::Length, Ask::TipOd])
        .still(1.0, 3.0)
        .length_around(2.0, 2.0)
        .tip_up_to(0.3)
        .body(
            r"# Quirin, just in

Length and tip, then the doorbell rang. No weight hung on it so far, so nothing can be said yet.
",
        )
}

fn udo() -> Job {
    Job::new("udo-snipe", "snipe-609")
        .wanted("Udo", "chub under the alders with small wobblers", "2025-12-13")
        .held(None)
        .read(FIRST)
        .plan(1.0, 2.0)
        .tip(0.75)
        .read(TIP)
        .day("2025-12-14")
        .butt(2.0)
        .read(LAST)
        .feel("brisk, tidy, short in the sleeve")
        .length_around(1.5, 1.5)
        .power_around(0.14)
        .tip_up_to(0.25)
        .aim(0.0, 1.0)
        .told("2025-12-20 for under the tree")
        .ended("keep", 4)
        .body(
            r"# Udo's chub snipe

First of the new ones. A quarter inch short of the plan at the tip, since the board was already content.
",
        )
}

fn viola() -> Job {
    Job::new("viola-snipe", "snipe-609")
        .wanted("Viola", "trout in a stream that one can step across", "2026-03-07")
        .held(None)
        .read(FIRST)
        .plan(0.5, 3.0)
        .day("2026-03-08")
        .tip(0.5)
        .read(TIP)
        .butt(3.0)
        .read(LAST)
        .feel("a stick of liquorice with a spring in it")
        .length_around(1.5, 2.0)
        .power_around(0.14)
        .aim(0.0, 1.01)
        .told("2026-03-21 she steps, it bends, the trout comes")
        .ended("keep", 5)
        .body(
            r"# Viola, the step-across

Short butt for elbows in the alder. Very little off the tip: the stream does the loading.
",
        )
}

fn wanda() -> Job {
    Job::new("wanda-snipe", "snipe-609")
        .wanted("Wanda", "perch and chub, and a bet with Udo", "2026-04-18")
        .held(None)
        .read(FIRST)
        .tip(0.5)
        .read(&[Ask::Power])
        .feel("close, the bet is on the casting")
        .still(0.25, 2.0)
        .length_around(2.0, 1.5)
        .power_around(0.15)
        .aim(0.0, 1.0)
        .written_in_a_hurry()
        .body(
            r"# Wanda, the bet

Typed between two customers, to be looked over.
",
        )
}
