//! What is lost between two pages of an export is a fault, not an end.

use selachron_record::export::Asking;
use selachron_record::export::tables::TABLES;
use selachron_record::projections::Projections;
use selachron_schemas::limits::{BATCH_EVENTS_MAX, EXPORT_PAGE_ROWS, EXPORT_PAGE_THINGS};
use selachron_tests::fixture::envelope;
use selachron_tests::world::World;
use serde_json::json;

fn learned(world: &World) -> (Projections, u64) {
    let (projections, journal) = (Projections::new(), world.service().journal());
    let size = journal.published().size();
    projections.catch_up(&**journal.store(), size).expect("the log can be learned");
    (projections, size)
}

/// A panic while a note is learned makes the projections forget everything, to learn it anew. Whoever was
/// writing a table then has half of it.
#[test]
fn a_table_of_what_was_forgotten_meanwhile_breaks_off() {
    let mut world = World::new();
    for number in 0..=EXPORT_PAGE_THINGS {
        world.tank(&format!("T{number}"), "nursery");
    }
    let (projections, known_at) = learned(&world);
    let asking = Asking { projections: &projections, as_of: world.now(), known_at, scratch: world.scratch() };
    let tanks = TABLES.into_iter().find(|table| table.shape.name == "tanks").expect("a table");
    let mut rows = 0;
    let broke = tanks.each(&asking, |_| {
        rows += 1;
        projections.forget();
        Ok(())
    });
    assert_eq!((rows, broke.is_err()), (EXPORT_PAGE_THINGS, true), "the second page is missing, and that is told");
    for table in TABLES {
        assert!(table.all(&asking).is_err(), "{}: nothing of it is known", table.shape.name);
    }
    let (projections, known_at) = learned(&world);
    let asking = Asking { projections: &projections, ..asking };
    assert_eq!(tanks.all(&Asking { known_at, ..asking }).expect("all is known").len(), EXPORT_PAGE_THINGS + 1);
}

/// However many looks there are at the cases of a page: what is held at once is told by what comes before all is
/// forgotten.
#[test]
fn a_page_of_a_table_ends_with_the_thing_that_fills_it() {
    let mut world = World::new();
    let species = world.species("Inventus exemplaris", "invented shark");
    let tank = world.tank("Adults", "adults");
    let eggs: Vec<String> = (0..5).map(|number| world.egg(&format!("E{number}"), &species, &tank, None)).collect();
    let (looks, now) = (EXPORT_PAGE_ROWS / 2 - 10, world.now());
    for egg in &eggs {
        let mut lines: Vec<String> = Vec::new();
        for _ in 0..looks {
            let body = world.staff.keeper.body("egg.candled.v1", egg, now, &json!({"seen_into": true, "band": 2, "movement": "moving"}));
            lines.push(envelope(&body, &[&world.staff.keeper]) + "\n");
        }
        for batch in lines.chunks(BATCH_EVENTS_MAX) {
            world.client().transport().post("/v1/events", "application/x-ndjson", &batch.concat()).expect("an answer");
        }
    }
    let (projections, known_at) = learned(&world);
    let asking = Asking { projections: &projections, as_of: now, known_at, scratch: world.scratch() };
    let table = TABLES.into_iter().find(|table| table.shape.name == "looks").expect("a table");
    assert_eq!(table.all(&asking).expect("all is known").len(), eggs.len() * looks);
    let mut rows = 0;
    let broke = table.each(&asking, |_| {
        rows += 1;
        projections.forget();
        Ok(())
    });
    assert_eq!((rows, broke.is_err()), (3 * looks, true), "the third case fills the page");
}
