//! The builds on egret-700, tern-900 and reed-711, which the demo shop sees now and then.

use super::job::{Ask, FIRST, Job, LAST, TIP};
use super::mm;

pub(super) fn jobs() -> Vec<Job> {
    vec![
        alma(),
        bruno(),
        clara(),
        detlef(),
        emil(),
        frieda(),
        gustav(),
        hella(),
        ivo(),
        josefine(),
        karl(),
        lene(),
    ]
}

fn alma() -> Job {
    Job::new("alma-egret", "egret-700")
        .wanted("Alma", "zander with rubber, deep, in the old gravel pits", "2023-09-16")
        .held(None)
        .read(FIRST)
        .day("2023-09-17")
        .tip(1.0)
        .read(TIP)
        .butt(2.0)
        .read(LAST)
        .feel("tells you what the bottom is made of")
        .length_around(1.5, 1.5)
        .power_around(0.12)
        .tip_up_to(0.25)
        .aim(0.0, 1.0)
        .told("2023-09-24 she knocks on wood when she mentions it")
        .ended("keep", 5)
        .body(
            r"# Alma, gravel pits

The sheet that came with this blank was worth its paper: what I worked out before the saw and what hung on the board afterwards were closer than I can clamp it twice.
",
        )
}

fn bruno() -> Job {
    Job::new("bruno-egret", "egret-700")
        .wanted("Bruno", "pike in the backwaters with spoons a hand long", "2024-10-12")
        .also("lure: 15 g .. 40 g")
        .held(None)
        .read(&[Ask::Length, Ask::TipOd, Ask::Weight, Ask::Power, Ask::Angle, Ask::Frequency])
        .plan(1.5, 1.0)
        .tip(1.5)
        .read(TIP)
        .day("2024-10-13")
        .butt(1.0)
        .read(LAST)
        .feel("serious, but it still smiles")
        .length_around(1.5, 1.5)
        .power_around(0.12)
        .aim(0.0, 0.97)
        .told("2024-10-20 fetched, with a pike as payment in part")
        .ended("keep", 4)
        .body(
            r"An inch and a half, planned and cut in one, because the sheet made me brave.
It came out a few grams over what we had talked about. Bravery is a few grams.
",
        )
}

fn clara() -> Job {
    Job::new("clara-egret", "egret-700")
        .wanted("Clara", "bass from the beach in a swell", "2025-03-29")
        .held(None)
        .read(&[Ask::Length, Ask::TipOd, Ask::Weight, Ask::Power, Ask::Board])
        .day("2025-03-30")
        .tip(0.75)
        .read(TIP)
        .feel("longer than I would fish it, exactly as she would")
        .butt(0.5)
        .read(LAST)
        .length_around(1.5, 1.0)
        .power_around(0.12)
        .aim(0.0, 1.01)
        .told("2025-04-06 wants to know why anyone cuts more")
        .ended("keep", 4)
        .body(
            r"# Clara's beach egret

I pricked the bent shape into the paper on the long wall, five points, and kept the sheet.
Little was cut, and little had to be.
",
        )
}

fn detlef() -> Job {
    Job::new("detlef-egret", "egret-700")
        .wanted("Detlef", "zander from the groynes, and a fixed idea of the length", "2025-06-14")
        .held(None)
        .read(FIRST)
        .plan(1.0, 1.5)
        .day("2025-06-15")
        .tip(1.0)
        .read(TIP)
        .feel("that is his load to the gram")
        .butt(1.5)
        .writes_it_again()
        .read(&[Ask::Length])
        .length_around(2.0, 1.0)
        .power_around(0.13)
        .tip_up_to(0.25)
        .told("2025-06-22 collected")
        .ended("keep", 4)
        .body(
            r"# Detlef's groyne rod

Wrote up after lunch what I had already written up before lunch, I think.
The rod is as long as it should be; it is the sheet that is an inch and a half short. To be put right when I have time, which is never.
",
        )
}

fn emil() -> Job {
    Job::new("emil-egret", "egret-700")
        .wanted("Emil", "pike and zander from a belly boat", "2026-04-25")
        .held(None)
        .read(FIRST)
        .still(1.0, 3.0)
        .length_around(1.5, 2.0)
        .power_around(0.13)
        .tip_up_to(0.3)
        .aim(0.0, 1.0)
        .body(
            r"# Emil, belly boat

Short enough to land a fish at arm's length while sitting in a tube.
Read, not planned. I want to see him sit in that thing first.
",
        )
}

fn frieda() -> Job {
    Job::new("frieda-tern", "tern-900")
        .wanted("Frieda", "sea trout from the open beach, long casts over the bar", "2023-12-09")
        .read(FIRST)
        .day("2023-12-10")
        .tip(1.5)
        .read(TIP)
        .butt(2.0)
        .read(LAST)
        .feel("reaches the second bar and comes back quietly")
        .length_around(2.0, 2.0)
        .power_around(0.12)
        .tip_up_to(0.25)
        .aim(0.0, 1.0)
        .told("2023-12-17 walked straight to the beach")
        .ended("keep", 5)
        .body(
            r"# Frieda, second bar

Measured with the spigot home, twice.
A long blank hides a tip cut: an inch and a half here does what half an inch does on a gannet.
",
        )
}

fn gustav() -> Job {
    Job::new("gustav-tern", "tern-900")
        .metric()
        .wanted("Gustav", "float fishing over the mussel beds", "2024-07-20")
        .held(Some(mm(350.0)))
        .read(FIRST)
        .tip(mm(30.0))
        .read(TIP)
        .butt(mm(100.0))
        .read(LAST)
        .feel("long arm, light hand")
        .length_around(2.4, 2.4)
        .power_around(0.13)
        .aim(0.0, 1.0)
        .told("2024-07-28 contented")
        .ended("keep", 4)
        .body(
            r"A hand's breadth from the butt so that he can stand on his slippery stones and not poke the mussels.
The lower piece is shorter than the upper one now, which looks odd in the bag and nowhere else.
",
        )
}

fn hella() -> Job {
    Job::new("hella-tern", "tern-900")
        .wanted("Hella", "spoons into the wind, always into the wind", "2025-01-25")
        .also("lure: 15 g .. 28 g")
        .held(Some(14.0))
        .read(FIRST)
        .plan(2.0, 1.0)
        .tip(2.0)
        .read(TIP)
        .day("2025-01-26")
        .tip(0.75)
        .read(TIP)
        .feel("cuts the wind, loses a little of the feel")
        .butt(1.0)
        .read(LAST)
        .length_around(2.0, 2.0)
        .power_around(0.12)
        .aim(0.0, 0.96)
        .told("2025-02-08 she likes the distance and misses the softness")
        .ended("keep", 3)
        .body(
            r"# Hella, into the wind

The last three quarters were her wish, against my advice, and she was half right.
",
        )
}

fn ivo() -> Job {
    Job::new("ivo-tern", "tern-900")
        .wanted("Ivo", "sea trout, dusk, the long bay", "2026-03-28")
        .read(FIRST)
        .plan(1.0, 2.0)
        .day("2026-03-29")
        .tip(1.0)
        .read(TIP)
        .feel("another half inch, perhaps, after he has thrown it dressed with tape and two guides")
        .still(0.5, 2.0)
        .length_around(2.0, 2.0)
        .power_around(0.13)
        .tip_up_to(0.3)
        .aim(0.0, 1.0)
        .body(
            r"# Ivo, waiting for a calm evening

He takes it home with the guides taped on and says on Monday what he thinks.
",
        )
}

fn josefine() -> Job {
    Job::new("josefine-reed", "reed-711")
        .wanted("Josefine", "carp on the top, bread crust, slow water", "2023-05-27")
        .held(None)
        .read(FIRST)
        .tip(1.0)
        .read(TIP)
        .butt(3.0)
        .read(LAST)
        .feel("like leaning on a branch that likes you")
        .length_around(2.0, 2.0)
        .power_around(0.15)
        .tip_up_to(0.3)
        .aim(0.0, 1.0)
        .told("2023-06-03 named it")
        .ended("keep", 5)
        .body(
            r"# Josefine, glass for carp

Glass is heavy and it sags, and the sag is part of the reading: level jaws, clamp line, then the weights.
She has given the rod a name and will not tell me.
",
        )
}

fn karl() -> Job {
    Job::new("karl-reed", "reed-711")
        .wanted("Karl", "tench at dawn with a quill", "2024-05-04")
        .held(None)
        .read(FIRST)
          .plan(0.5, 13.0)
        .tip(0.5)
        .read(TIP)
        .settled("tip", "hooks are small and lines are thin")
        .butt_kept(13.0)
        .read(LAST)
        .feel("slow, which is the idea")
        .length_around(2.0, 2.0)
        .power_around(0.15)
        .aim(0.0, 1.04)
        .told("2024-05-12 he came back only to show me a tench")
        .ended("keep", 4)
        .body(
            r"Thirteen inches off the butt, because he fishes from a punt, on a seat as low as a milking stool, and the long end caught under the thwart.
Seven foot eleven is a lot of glass to begin with. The piece that came off lies in the offcut drawer.
",
        )
}

fn lene() -> Job {
    Job::new("lene-reed", "reed-711")
        .metric()
        .wanted("Lene", "roach and rudd, and a cousin's pond with one big carp", "2025-07-05")
        .held(Some(mm(230.0)))
        .read(FIRST)
        .tip(mm(40.0))
        .read(TIP)
        .feel("quicker than glass has any right to be")
        .day("2025-07-06")
        .butt(mm(80.0))
        .read(LAST)
        .length_around(2.4, 2.4)
        .power_around(0.15)
        .aim(0.0, 0.96)
        .told("2025-07-13 a little more of it than she wanted, but it stays")
        .ended("keep", 3)
        .body(
            r"# Lene's glass

Forty millimetres in one cut: too bold on a blank that I see once a year.
",
        )
}
