//! What is lost between two pages of an export is a fault, not an end.

use selachron_record::export::Asking;
use selachron_record::export::tables::TABLES;
use selachron_record::projections::Projections;
use selachron_schemas::limits::EXPORT_PAGE_THINGS;
use selachron_tests::world::World;

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
    let asking = Asking { projections: &projections, as_of: world.now(), known_at };
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
