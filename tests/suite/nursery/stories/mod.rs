//! One story for each rule of the fold, told in the words of `runner`. All of it is invented.

mod animals;

mod care;

mod lives;

mod eggs;

mod openings;

mod record;

mod settling;

use selachron_record::domain::discrepancy::odd;

#[test]
fn every_kind_of_discrepancy_occurs_in_a_story() {
    let stories = [
        include_str!("animals.rs"),
        include_str!("care.rs"),
        include_str!("lives.rs"),
        include_str!("eggs.rs"),
        include_str!("openings.rs"),
        include_str!("record.rs"),
        include_str!("settling.rs"),
    ];
    // Those of the house are told through the client and the service.
    let house = [
        include_str!("../../keeping/water.rs"),
        include_str!("../../keeping/adults.rs"),
        include_str!("../../keeping/work.rs"),
        include_str!("../../keeping/movement.rs"),
        include_str!("../../keeping/groups.rs"),
        include_str!("../../keeping/permits.rs"),
    ];
    let stories = stories.concat() + &house.concat();
    for kind in odd::ALL {
        assert!(stories.contains(kind.words), "no story tells of {:?}", kind.words);
    }
}
