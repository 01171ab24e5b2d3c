//! Life tables and the rate of increase: by hand, against R, and against published notes.

use selachron_statistics::life_table::{AgeClass, LifeTable, Method, age_classes};
use selachron_statistics::reproduction::Births;
use selachron_statistics::{Error, InvalidInput, Reason, Row, life_table, reproduction};
use serde_json::Value;

use crate::support::{assert_near, assert_same, json, numbers, reference};

/// KMsurv::lifetab on Klein & Moeschberger 1997 example 5.4 (R 4.2.2, KMsurv 0.1-5).
#[test]
fn weaning() {
    let file = json(reference!("lifetable_bfeed.expected.json"));
    let breaks = file["breaks"].as_array().expect("breaks");
    let (lost, events) = (numbers(&file["lost"]), numbers(&file["events"]));
    let mut n_start = file["n0"].as_u64().expect("a count");
    let mut classes = Vec::new();
    for (index, (lost, events)) in lost.iter().zip(&events).enumerate() {
        let start = breaks[index].as_f64().expect("a start");
        classes.push(AgeClass::counted(start, breaks[index + 1].as_f64(), n_start, *lost as u64, *events as u64));
        n_start -= (*lost + *events) as u64;
    }
    let found = life_table(&classes, Method::Actuarial).expect("a table");
    let (expected, within) = (&file["expected"], file["tolerance"].as_f64().expect("a tolerance"));
    for (index, row) in found.rows.iter().enumerate() {
        let cell = |name: &str| expected[name][index].clone();
        assert_eq!(Value::from(row.class.n_start), cell("nsubs"));
        let columns = [
            ("nrisk", Some(row.exposed)),
            ("surv", row.l),
            ("pdf", row.density_per_day),
            ("hazard", row.hazard_per_day),
            ("se.surv", row.se_l),
            ("se.pdf", row.se_density),
            ("se.hazard", row.se_hazard),
        ];
        columns.into_iter().for_each(|(name, value)| assert_same(&format!("{name}[{index}]"), value, &cell(name), within));
        assert_near(row.p.expect("p") + row.q.expect("q"), 1.0, 1e-15);
    }
}

/// Ten begin, two are lost and three die in 4 days: n' = 9, q = 1/3. Of the five left none is lost and
/// one dies: q = 1/5, l = 2/3. By exposure, 30 and 16 days: m = 1/10 and 1/16.
#[test]
fn both_tables_by_hand() {
    let exposed = |class: AgeClass, days: f64| AgeClass { exposure_days: Some(days), ..class };
    let classes = [exposed(AgeClass::counted(0.0, Some(4.0), 10, 2, 3), 30.0), exposed(AgeClass::counted(4.0, Some(8.0), 5, 0, 1), 16.0)];
    let actuarial = life_table(&classes, Method::Actuarial).expect("a table");
    assert_near(actuarial.rows[0].q.expect("q"), 1.0 / 3.0, 1e-15);
    assert_near(actuarial.rows[1].l.expect("l"), 2.0 / 3.0, 1e-15);
    assert_near(actuarial.rows[1].q.expect("q"), 0.2, 1e-15);
    let by_days = life_table(&classes, Method::Exposure).expect("a table");
    assert_near(by_days.rows[0].q.expect("q"), 1.0 - (-0.4_f64).exp(), 1e-15);
    assert_near(by_days.rows[1].l.expect("l"), (-0.4_f64).exp(), 1e-15);
    assert_near(by_days.rows[1].hazard_per_day.expect("m"), 1.0 / 16.0, 1e-15);
    assert_near(by_days.rows[1].se_hazard.expect("se"), 1.0 / 16.0, 1e-15);
    // Var ln l = w² d/days² = 16 · 3/900.
    assert_near(by_days.rows[1].se_l.expect("se"), (-0.4_f64).exp() * (16.0_f64 * 3.0 / 900.0).sqrt(), 1e-15);
}

/// From classes of 5 days: one from the origin dies at 7 d, one enters at 3 d and is lost at 12 d, one
/// enters at 5 d (so it is there at the start of that class) and dies at 5.5 d.
#[test]
fn cases_are_sorted_into_classes() {
    let rows = [Row::event_at(7.0), Row::censored_at(12.0).entered_at(3.0), Row::event_at(5.5).entered_at(5.0).times(2)];
    let found = age_classes(&rows, &[0.0, 5.0, 10.0]).expect("classes").classes;
    let counts: Vec<_> = found.iter().map(|c| (c.n_start, c.entered, c.lost, c.n_event, c.exposure_days.expect("days"))).collect();
    assert_eq!(counts, [(1, 1, 0, 0, 7.0), (4, 0, 0, 3, 8.0), (1, 0, 1, 0, 2.0)]);
    assert_eq!(found[2].end_days, None);
    let excluded = age_classes(&[Row::event_at(2.0).entered_at(2.0)], &[0.0]).expect("classes");
    assert_eq!(excluded.excluded[0].reason, Reason::NoTimeAtRisk { at_days: 2.0 });
}

/// N 200 140 100 20 10 5 0 by year and births 0 0 .1 10 10 2 0 by each (course notes): R0 1.6,
/// sum x l m 5.35, T 3.34375, ln(R0)/T .140562, exact r .141595, lambda 1.152110.
#[test]
fn the_rate_of_increase_of_the_notes() {
    let found = reproduction(&yearly().schedule().expect("a schedule")).expect("a rate");
    assert_near(found.r0, 1.6, 1e-14);
    assert_near(found.generation_days, 3.34375, 1e-14);
    assert_near(found.rate_approximate_per_day, 0.140_562, 5e-7);
    assert_near(found.rate_per_day, 0.141_595, 5e-7);
    assert_near(found.lambda, 1.152_110, 5e-7);
    let q: Vec<Option<f64>> = yearly().rows.iter().map(|row| row.q).collect();
    for (q, expected) in q.iter().zip([0.3, 2.0 / 7.0, 0.8, 0.5, 0.5, 1.0]) {
        assert_near(q.expect("q"), expected, 1e-15);
    }
    assert_eq!(q[6], None, "nobody reaches the last class");
}

fn yearly() -> LifeTable {
    let n: [u64; 8] = [200, 140, 100, 20, 10, 5, 0, 0];
    let births = [0.0, 0.0, 0.1, 10.0, 10.0, 2.0, 0.0];
    let class = |year: usize| {
        let (start, alive) = (year as f64, n[year]);
        let counted = AgeClass::counted(start, Some(start + 1.0), alive, 0, alive - n[year + 1]);
        AgeClass { births: Some(births[year] * alive as f64), ..counted }
    };
    life_table(&(0..7).map(class).collect::<Vec<_>>(), Method::Actuarial).expect("a table")
}

/// All two births at age 3: exp(-3r) 2 = 1, r = ln 2/3 exactly, as the approximation has it.
#[test]
fn one_age_of_births() {
    let found = reproduction(&[Births { age_days: 3.0, survival: 0.5, births: 4.0 }]).expect("a rate");
    assert_near(found.rate_per_day, 2.0_f64.ln() / 3.0, 1e-15);
    assert_near(found.lambda, 2.0_f64.powf(1.0 / 3.0), 1e-15);
    assert_eq!((found.r0, found.generation_days), (2.0, 3.0));
}

/// Births at 1 and 2 of one each, all live: x + x² = 1 for x = exp(-r): the golden section.
#[test]
fn the_golden_schedule() {
    let at = |age_days| Births { age_days, survival: 1.0, births: 1.0 };
    let found = reproduction(&[at(1.0), at(2.0)]).expect("a rate");
    assert_near(found.lambda, (1.0 + 5.0_f64.sqrt()) / 2.0, 1e-15);
}

#[test]
fn what_cannot_be_estimated_is_said() {
    let none = Births { age_days: 1.0, survival: 1.0, births: 0.0 };
    assert_eq!(reproduction(&[none]), Err(Reason::NoBirths.into()));
    assert_eq!(reproduction(&[]), Err(Reason::NoBirths.into()));
    let newborn = Births { age_days: 0.0, survival: 1.0, births: 2.0 };
    assert_eq!(reproduction(&[newborn]), Err(Reason::BirthsAtAgeZero.into()));
    let later = Births { age_days: 1.0, ..newborn };
    assert_eq!(reproduction(&[newborn, later]), Err(Reason::BirthsAtAgeZero.into()));
    assert_eq!(life_table(&[], Method::Actuarial), Err(Reason::NoData.into()));
    assert_eq!(age_classes(&[], &[]), Err(Reason::NoData.into()));
    let table = life_table(&[AgeClass::counted(0.0, None, 0, 0, 0)], Method::Actuarial).expect("a table");
    assert_eq!((table.rows[0].q, table.rows[0].l), (None, Some(1.0)));
    assert_eq!(table.schedule(), Err(Reason::NoBirths.into()));
    let orphans = AgeClass { births: Some(3.0), ..AgeClass::counted(0.0, None, 0, 0, 0) };
    let table = life_table(&[orphans], Method::Actuarial).expect("a table");
    assert_eq!(table.schedule(), Err(Reason::EmptyClass { start_days: 0.0 }.into()));
}

#[test]
fn bad_classes_are_named() {
    let good = AgeClass::counted(0.0, Some(5.0), 10, 0, 1);
    let wrong = |class: AgeClass, method| match life_table(&[good, class], method).expect_err("a bad class") {
        Error::Input(input) => input,
        Error::NotEstimable(reason) => panic!("{reason}"),
    };
    let order = wrong(AgeClass::counted(6.0, Some(9.0), 9, 0, 0), Method::Actuarial);
    assert_eq!(order, InvalidInput::ClassOrder { row: 1, start_days: 6.0, end_days: 9.0 });
    assert!(matches!(wrong(AgeClass::counted(5.0, Some(5.0), 9, 0, 0), Method::Actuarial), InvalidInput::ClassOrder { row: 1, .. }));
    assert!(matches!(wrong(AgeClass::counted(f64::NAN, None, 9, 0, 0), Method::Actuarial), InvalidInput::ClassValue { row: 1, .. }));
    let many = wrong(AgeClass::counted(5.0, None, 3, 2, 3), Method::Actuarial);
    assert_eq!(many, InvalidInput::EventsAboveExposed { row: 1, n_event: 3, exposed: 2.0 });
    let births = AgeClass { births: Some(-1.0), ..AgeClass::counted(5.0, None, 3, 0, 0) };
    assert_eq!(wrong(births, Method::Actuarial).to_string(), "row 1: births is -1; give a finite number, 0 or more");
    let days = life_table(&[good], Method::Exposure).expect_err("no days");
    assert!(days.to_string().starts_with("row 0: exposure_days is NaN"), "{days}");
    let idle = AgeClass { exposure_days: Some(0.0), ..good };
    assert!(matches!(life_table(&[idle], Method::Exposure), Err(Error::Input(InvalidInput::EventsAboveExposed { row: 0, .. }))));
    let negative = reproduction(&[Births { age_days: 1.0, survival: -0.1, births: 1.0 }]).expect_err("a bad part");
    assert!(negative.to_string().starts_with("row 0: survival is -0.1"), "{negative}");
    assert!(matches!(age_classes(&[Row::event_at(-1.0)], &[0.0]), Err(Error::Input(InvalidInput::RowAge { row: 0, .. }))));
    assert!(matches!(age_classes(&[], &[0.0, 0.0]), Err(Error::Input(InvalidInput::ClassOrder { row: 0, .. }))));
}
