//! What is due, and when.

use super::book::{day, subject};
use super::runner::{World, check};
use selachron_schemas::time::DAY_MS;

/// `what label overdue` for each item, looking so many days ahead.
fn due(world: &World, on: i64, ahead: i64) -> Vec<String> {
    world.projections.at(day(on), u64::MAX, |view| {
        let items = view.due(day(on).plus_ms(ahead * DAY_MS));
        items.iter().map(|item| format!("{:?} {} {}", item.what, item.label, item.overdue_days)).collect()
    })
}

#[test]
fn a_look_is_due_by_policy_and_band() {
    let world = check(
        r#"
        day -1 by curator with registrar policy {"candling_interval_days": 7, "candling_interval_days_by_band": {"6": 3}} -> recorded
        day  0 egg A1 collected                -> recorded
        day  0 egg B1 collected left           -> recorded
        day 10 egg A1 candled band 6 moving    -> recorded
        day 20 egg A1 hatched young Y1 alive   -> recorded
        "#,
    );
    assert_eq!(due(&world, 6, 0), [""; 0], "not before a week has passed");
    assert_eq!(due(&world, 6, 1), ["Candle A1 0"], "tomorrow");
    assert_eq!(due(&world, 7, 0), ["Candle A1 0"], "on the day itself");
    assert_eq!(due(&world, 9, 0), ["Candle A1 2"]);
    assert_eq!(due(&world, 12, 0), [""; 0], "band 6 is looked at every three days");
    assert_eq!(due(&world, 14, 0), ["Candle A1 1"]);
    assert_eq!(due(&world, 20, 0), [""; 0], "hatched; and nobody candles a case left with the adults");
}

#[test]
fn a_newly_laid_case_rests_first() {
    let world = check(
        r#"
        day -1 by curator with registrar policy {"rest_after_laying_days": 14} -> recorded
        day  0 egg A1 collected     -> recorded
        "#,
    );
    assert_eq!(due(&world, 13, 0), [""; 0]);
    assert_eq!(due(&world, 14, 0), ["Candle A1 0"]);
}

#[test]
fn a_case_held_apart_is_looked_at_again() {
    let world = check(
        "
        day  0 egg A1 collected              -> recorded
        day 10 egg A1 held_apart             -> recorded
        day 12 egg A1 candled band 3 still   -> recorded
        day 14 egg A1 candled band 3 moving  -> recorded
        ",
    );
    assert_eq!(due(&world, 11, 0), [""; 0], "48 hours by default");
    assert_eq!(due(&world, 11, 1), ["LookAgain A1 0"]);
    assert_eq!(due(&world, 13, 1), ["LookAgain A1 0"], "and again, two days after the last look");
    assert_eq!(due(&world, 14, 1), [""; 0], "seen alive");
    world.projections.at(day(12), u64::MAX, |view| {
        let id = selachron_schemas::names::Subject::parse(&subject("egg", "A1")).unwrap();
        assert_eq!(view.egg(&id).unwrap().held_apart.unwrap().looks_since, 1);
    });
}

#[test]
fn a_hatchling_must_be_seen_to_eat() {
    let world = check(
        "
        day  0 egg A1 collected                   -> recorded
        day 60 egg A1 hatched young Y1 alive young Y2 alive young Y3 alive -> recorded
        day 61 animal Y1 fed none                 -> recorded
        day 62 animal Y2 fed some                 -> recorded
        day 66 animal Y3 measured yolk-used-up    -> recorded
        day 80 animal Y1 died                     -> recorded
        # Where it came from elsewhere nobody knows since when it has eaten.
        day 60 animal F1 received                 -> recorded
        ",
    );
    assert_eq!(due(&world, 69, 0), [""; 0]);
    assert_eq!(due(&world, 70, 0), ["NotSeenToEat Y1 0"], "ten days by this species' listing");
    assert_eq!(due(&world, 76, 0), ["NotSeenToEat Y1 6", "NotSeenToEat Y3 0"], "counted from the internal yolk used up");
    assert_eq!(due(&world, 81, 0), ["NotSeenToEat Y3 5"], "the dead are not hungry");
}

#[test]
fn what_is_due_says_why_and_names_its_notes() {
    let world = check("day 0 egg A1 collected -> recorded\n day 7 egg A1 candled band 2 moving -> recorded");
    world.projections.at(day(15), u64::MAX, |view| {
        let item = view.due(view.as_of()).remove(0);
        assert_eq!(item.why, "Last candled on 2026-01-08 in band 2; the policy asks for a look every 7 days.");
        assert_eq!(item.events.len(), 1);
        assert_eq!(item.due_at.utc_text(), "2026-01-14T14:00:00.000Z", "the beginning of the day in Brisbane");
    });
}
