//! A fleet of the workshop through the program: faults lead, nothing healthy stands above them, bad logs are listed,
//! and neither threads nor a second run change the result.

use evenpull_core::visits::Fleet;
use evenpull_core::visits::fleet_result::Attention;

use evenpull_model::workshop::{Craft, harrow_sound};

use super::support::{Call, Desk, valid};

/// The workshop of the engine model; its story stands in `evenpull_model::workshop`.
fn workshop(desk: &Desk) {
    for visit in harrow_sound().iter().flat_map(Craft::visits) {
        desk.file(format!("logs/{}/{}.csv", visit.craft.id, visit.number), visit.record().expect("a log").0);
    }
}

fn read(text: &str) -> Fleet {
    valid(evenpull_core::schema::FLEET, &serde_json::from_str(text).expect("JSON"));
    serde_json::from_str(text).expect("a ranking")
}

#[test]
fn the_workshops_story_is_found() {
    let desk = Desk::new();
    workshop(&desk);
    let mut lost = Call::new("", 4, 0, 77);
    lost.biases[0] = 0.1;
    desk.file("logs/no-name.csv", lost.record().0);
    desk.file("logs/broken.csv", "time,map1,rpm\n\u{0}\u{0}\u{0}");
    let copy = std::fs::read(desk.path("logs/HS-01/0.csv")).expect("a log");
    desk.file("logs/copy of 0.csv", copy);
    let left = desk.run(&["fleet", "logs", "--out", "one", "--json", "-", "--threads", "1"]);
    assert_eq!(left.code, 2, "{}", left.err);
    assert!(left.err.contains("broken.csv") && left.err.lines().count() == 1, "{}", left.err);
    let fleet = read(&left.out);
    assert_eq!((fleet.machines.len(), fleet.unnamed.len(), fleet.failed.len()), (14, 1, 1));
    let order: Vec<&str> = fleet.machines.iter().map(|m| m.machine.as_str()).collect();
    let mut first = order[..3].to_vec();
    first.sort_unstable();
    assert_eq!(first, ["HS-03", "HS-05", "HS-10"], "{order:?}");
    let at = |id: &str| fleet.machines.iter().find(|m| m.machine == id).expect(id);
    assert!(at("HS-03").drift.as_ref().is_some_and(|d| d.cylinder == 2 && d.significant && d.outward));
    assert_eq!((at("HS-05").attention, at("HS-05").cylinder), (Attention::Act, Some(1)));
    assert!(at("HS-05").change.as_ref().is_some_and(|c| c.cylinder == 1 && c.worse));
    assert_eq!(at("HS-10").cylinder, Some(3));
    assert_eq!(at("HS-08").attention, Attention::Fine, "{:?}", at("HS-08").why);
    assert!(order[3..].iter().all(|id| at(id).attention == Attention::Fine), "{order:?}");

    // Two threads and an order of their own give the same bytes; a second run finds everything done.
    let two = desk.run(&["fleet", "logs", "--out", "two", "--json", "-", "--threads", "2"]);
    assert_eq!(two.out, left.out);
    let again = desk.run(&["fleet", "logs", "--out", "two"]);
    assert!(again.out.contains("73 logs, 70 of them done before, 1 twice"), "{}", again.out);
    let file = |name: &str| std::fs::read(desk.path(name)).expect(name);
    assert_eq!(file("one/fleet.json"), file("two/fleet.json"));
    assert_eq!(file("one/fleet.csv"), file("two/fleet.csv"));
    assert_eq!(file("one/fleet.csv").iter().filter(|b| **b == b'\n').count(), 15);
    assert!(file("one/fleet.parquet").starts_with(b"PAR1"));
    assert!(
        desk.path("one/machines").join("HS-03-visits.json").exists()
            || desk.path("one/machines/hs-03-visits.json").exists()
    );

    // The book alone gives the same machines in the same order.
    let book = desk.run(&["fleet", "--book", "one/book", "--out", "three", "--json", "-"]);
    assert_eq!(book.code, 0, "{}", book.err);
    assert_eq!(read(&book.out).machines, fleet.machines);
}

#[test]
fn a_list_says_what_the_logs_do_not() {
    let desk = Desk::new();
    for n in 0..3 {
        let text = Call::new("", 4, n, 900 + n as u64).record().0;
        desk.file(format!("logs/{n}.csv"), text);
    }
    desk.file("machines/HS-21.toml", "id = \"HS-21\"\ncylinders = 4\nlimit_kpa = 2.0\n");
    let list = "path,machine,date,hours,note\nlogs/0.csv,HS-21,2025-01-01,10,first\nlogs/1.csv,HS-21,2025-03-01,20,\n\
                logs/2.csv,,2025-04-01,,\nlogs/9.csv,HS-21,2025-05-01,,\nlogs/0.csv,HS-22,2025-01-01,,\n,HS-22,,,\n";
    desk.file("list.csv", list);
    let left = desk.run(&["fleet", "--list", "list.csv", "--machines", "machines", "--json", "-"]);
    assert_eq!(left.code, 2);
    let fleet = read(&left.out);
    assert_eq!((fleet.machines.len(), fleet.machines[0].visits, fleet.unnamed.len()), (1, 2, 1));
    assert_eq!(fleet.machines[0].limit_kpa, 2.0);
    let reasons: Vec<&str> = fleet.failed.iter().map(|f| f.reason.as_str()).collect();
    assert_eq!(reasons.len(), 3, "{reasons:?}");
    assert!(reasons.iter().any(|r| r.starts_with("list.csv:7: `path` is empty")));
    assert!(reasons.iter().any(|r| r.starts_with("the same recording as logs/0.csv")));
    // Corrected hours supersede what the book had.
    desk.file("list.csv", list.replace(",20,", ",25,"));
    let left = desk.run(&["fleet", "--list", "list.csv", "--machines", "machines"]);
    assert!(left.out.contains("1 of them done before"), "{}", left.out);
    let compared = desk.run(&["compare", "--book", "reports/fleet/book", "--id", "HS-21", "--json", "-"]);
    let c: serde_json::Value = serde_json::from_str(&compared.out).expect("JSON");
    assert_eq!(c["visits"][1]["hours"], 25.0);
}
