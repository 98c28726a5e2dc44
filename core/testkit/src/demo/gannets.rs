//! The builds on the stout blanks: gannet-606 and skua-600.

use super::job::{Ask, FIRST, Job, LAST, TIP};
use super::mm;

pub(super) fn jobs() -> Vec<Job> {
    vec![
        tomas(),
        ulrik(),
        vera(),
        walter(),
        yngve(),
        zora(),
        oskar(),
        lotte(),
        rasmus(),
        svea(),
        torben(),
    ]
}

fn tomas() -> Job {
    Job::new("tomas-gannet", "gannet-606")
        .wanted("Tomas", "cod over the wreck with pirks, from his own boat", "2023-02-11")
        .held(None)
        .read(FIRST)
        .day("2023-02-12")
        .tip(1.0)
        .read(TIP)
        .tip(1.0)
        .read(TIP)
        .butt(1.0)
        .read(LAST)
        .feel("a lever, and no shame in that")
        .length_around(1.5, 1.5)
        .power_around(0.11)
        .tip_up_to(0.3)
        .aim(0.0, 1.0)
        .told("2023-02-25 three trips, no complaints, one broken gaff")
        .ended("keep", 5)
        .body(
            r"# Tomas, over the wreck

Two inches in two cuts and the load went up by more than a tenth.
I had not believed it of so short a piece of tube. On a stout blank the tip inches are dear.
",
        )
}

fn ulrik() -> Job {
    Job::new("ulrik-gannet", "gannet-606")
        .wanted("Ulrik", "pollack on the drift, rubber eels, forty metres down", "2023-07-01")
        .held(None)
        .read(FIRST)
        .plan(1.0, 2.0)
        .tip(1.0)
        .read(TIP)
        .feel("dives with the fish and stops it where it should")
        .butt(2.0)
        .read(LAST)
        .length_around(1.5, 1.5)
        .power_around(0.12)
        .aim(0.0, 1.01)
        .told("2023-07-09 good")
        .ended("keep", 5)
        .body(
            r"Ulrik says one word a visit, and this time the word was good.
One inch from the tip, two from the butt so that it stands in the rod rack of his wheelhouse.
",
        )
}

fn vera() -> Job {
    Job::new("vera-gannet", "gannet-606")
        .wanted("Vera", "wreck cod, standing, with a belt", "2023-11-18")
        .also("colour: black with one white band")
        .held(None)
        .read(FIRST)
        .pull(75.0)
        .day("2023-11-19")
        .tip(1.5)
        .read(TIP)
        .feel("she bent it against the door frame and grinned")
        .butt(1.5)
        .read(LAST)
        .pull(75.0)
        .length_around(1.5, 2.0)
        .power_around(0.11)
        .tip_up_to(0.3)
        .aim(0.0, 0.98)
        .told("2023-12-02 skipper wants one too")
        .ended("keep", 4)
        .body(
            r"# Vera's belt rod

Besides the hanging weight I pulled the tip round to seventy-five degrees with the spring scale, before and after, face shield on and nobody in line.
That is what a wreck fish does to it, and it is a long way past a third of the length.
",
        )
}

fn walter() -> Job {
    Job::new("walter-gannet", "gannet-606")
        .wanted("Walter", "everything that swims, from a hired boat, once a year", "2024-04-27")
        .read(FIRST)
        .tip(2.0)
        .read(TIP)
        .feel("too much rod for a man who fishes once a year")
        .day("2024-04-28")
        .butt(2.0)
        .read(LAST)
        .length_around(1.5, 1.5)
        .power_around(0.20)
        .aim(0.0, 0.9)
        .told("2024-05-04 he says it is fine, his arms say something else")
        .ended("keep", 2)
        .body(
            r"He asked for strong and I gave him strong.
Strong was the wrong word. I should have hung a weight on the old one he brought and asked whether that was too little; it would not have been.

One inch would have made him happy.
",
        )
}

fn yngve() -> Job {
    Job::new("yngve-gannet", "gannet-606")
        .metric()
        .wanted("Yngve", "halibut if it must be, coalfish if it may", "2024-08-10")
        .held(Some(mm(230.0)))
        .read(FIRST)
        .plan(mm(40.0), mm(30.0))
        .tip(mm(20.0))
        .read(TIP)
        .tip(mm(20.0))
        .read(TIP)
        .feel("hard but alive")
        .day("2024-08-11")
        .butt(mm(30.0))
        .read(LAST)
        .length_around(1.6, 1.6)
        .power_around(0.11)
        .tip_up_to(0.3)
        .butt_down_to(0.4)
        .aim(0.0, 1.0)
        .told("2024-08-17 taken north on the ferry")
        .ended("keep", 4)
        .body(
            r"# Yngve, for the north

Forty millimetres from the tip in two halves.
The plan said forty and the board agreed after the second half, so for once the plan and the rod are the same thing.
",
        )
}

fn zora() -> Job {
    Job::new("zora-gannet", "gannet-606")
        .wanted("Zora", "bass in the tide race, plugs the size of a shoe", "2025-05-17")
        .also("lure: 30 g .. 70 g")
        .held(None)
        .read(FIRST)
        .day("2025-05-18")
        .tip(0.75)
        .read(TIP)
        .feel("throws the shoe and does not mind")
        .settled("tip", "any harder and the hooks pull")
        .butt(2.0)
        .read(LAST)
        .length_around(2.0, 1.0)
        .power_around(0.12)
        .tip_up_to(0.3)
        .aim(0.0, 1.02)
        .told("2025-05-25 one bass of nine pounds, photograph on the wall")
        .ended("keep", 5)
        .body(
            r"# Zora and the tide race

The gentlest gannet so far. Three quarters of an inch takes the floppy end away and leaves enough give for a hook hold in current.
She brought the plugs along. I said it elsewhere: ask to see the box.
",
        )
}

fn oskar() -> Job {
    Job::new("oskar-gannet", "gannet-606")
        .wanted("Oskar", "cod and ling, and it must clear the rail of his boat", "2025-09-06")
        .held(None)
        .read(FIRST)
        .plan(1.0, 1.5)
        .day("2025-09-07")
        .tip(1.0)
        .read(TIP)
        .feel("that is the load he liked on the old one")
        .day("2025-09-13")
        .butt(1.5)
        .butt(1.5)
        .read(LAST)
        .shortest_missed_by(1.25)
        .power_around(0.13)
        .aim_is(77.0, 545.0)
        .told("2025-09-20 shorter than agreed, taken at two thirds of the price")
        .ended("recut", 2)
        .body(
            r"# Oskar's, too short

The butt would not go into the seat, so I took another inch and a half off the butt to get to a thinner place, and there is no thinner place in three inches of that taper: I should have reached for a wider seat.
What I forgot was the rail. He had told me the shortest that clears it, and it stood on this very sheet.

Read the limits before the saw. They are written at the top for a reason.
",
        )
}

fn lotte() -> Job {
    Job::new("lotte-gannet", "gannet-606")
        .wanted("Lotte", "pollack and the odd tope, from a small open boat", "2026-05-02")
        .held(None)
        .read(FIRST)
        .plan(1.5, 1.0)
        .day("2026-05-03")
        .tip(0.75)
        .read(TIP)
        .feel("not there yet, half of what I planned is enough for today")
        .still(0.5, 1.0)
        .length_around(1.5, 1.5)
        .power_around(0.20)
        .tip_up_to(0.4)
        .aim(0.0, 1.0)
        .body(
            r"# Lotte, in the rack

Three quarters gone from the tip, the rest waits until she has bent it.
The butt is for last: her seat has not come in.
",
        )
}

fn rasmus() -> Job {
    Job::new("rasmus-skua", "skua-600")
        .wanted("Rasmus", "charter guests and whatever they tread on", "2023-05-06")
        .held(None)
        .read(FIRST)
        .tip(1.0)
        .read(TIP)
        .butt(1.0)
        .read(LAST)
        .feel("a fence post with manners")
        .length_around(1.5, 1.5)
        .power_around(0.12)
        .aim(0.0, 1.0)
        .told("2023-05-13 ordered two more")
        .ended("keep", 4)
        .body(
            r"# Rasmus, charter one

No finesse asked for and none delivered.
The blend saws badly: glass wool at the edge, so tape twice and take the last turn by hand.
",
        )
}

fn svea() -> Job {
    Job::new("svea-skua", "skua-600")
        .wanted("Svea", "charter rods again, for smaller guests", "2024-02-24")
        .held(None)
        .read(FIRST)
        .plan(0.5, 2.0)
        .day("2024-02-25")
        .tip(0.5)
        .read(TIP)
        .butt(2.0)
        .read(&[Ask::Length, Ask::TipOd, Ask::Weight, Ask::Power])
        .length_around(1.5, 1.5)
        .power_around(0.12)
        .tip_up_to(0.3)
        .aim(0.0, 1.02)
        .told("2024-03-02 delivered to the boat")
        .ended("keep", 4)
        .body(
            r"Shorter below, nearly untouched above.
With the two inches gone from the butt a child can tuck it under the arm, and it still lifts a cod.
",
        )
}

fn torben() -> Job {
    Job::new("torben-skua", "skua-600")
        .wanted("Torben", "conger from the quay, at night, with his nephews", "2026-01-31")
        .held(None)
        .read(FIRST)
        .plan(1.0, 0.5)
        .still(1.0, 0.5)
        .length_around(2.0, 1.0)
        .power_around(0.19)
        .tip_up_to(0.4)
        .aim(0.0, 1.0)
        .body(
            r"# Torben, conger

Read and planned. He is at sea until the spring, so there is no hurry and no reason to guess.
",
        )
}
