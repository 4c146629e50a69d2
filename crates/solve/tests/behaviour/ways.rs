//! Ways follow the current that flows past a point.

use super::support::solved;

/// Two lamps on one stud that has a resistance of its own: the way from the one's return leads through itself, not up the
/// other one from the stud.
#[test]
fn no_way_leads_up_another_load_from_a_common_stud() {
    let text = "circuit c \"C\"
supply battery 12.6 V
ground G1 3 mohm
fuse F1 battery -> S1 10 A
splice S1
wire 1 S1 -> side.1 1.0 mm2 RD 2 m
wire 2 side.2 -> G1 1.0 mm2 BK 1 m
wire 3 S1 -> key.1 1.0 mm2 RD 2 m
wire 4 key.2 -> door.1 1.0 mm2 RD 2 m
wire 5 door.2 -> work.1 1.0 mm2 RD 2 m
wire 6 work.2 -> G1 1.0 mm2 BK 1 m
switch key
switch door
lamp side 55 W 12 V
lamp work 21 W 12 V
";
    let s = solved(text, &["key=on", "door=on"]);
    assert!(
        s.path("work.2", true).ends_with("F1") && s.path("work.2", true).contains("door"),
        "{}",
        s.path("work.2", true)
    );
    assert!(!s.path("work.2", true).contains("side"), "{}", s.path("work.2", true));
    assert!(s.path("side.2", true).contains("side"), "{}", s.path("side.2", true));
}

/// What leaks through a pull-down is not the return of a sensor.
#[test]
fn a_sensor_returns_by_its_track_and_not_by_a_pull() {
    let text = "circuit c \"C\"
supply battery 12.6 V
ground G1
fuse F1 battery -> CU.A.1 5 A
wire 2 CU.A.2 -> G1
wire 3 CU.A.3 -> place.1
wire 4 place.2 -> CU.A.4
wire 5 place.3 -> CU.A.5
device place {
  pins 1, 2, 3
  track 1 -> 3 wiper 2 4.7 kohm
}
module CU {
  connector A {
    1 ub feed
    2 gnd ground
    3 vref reference 5 V
    4 place_in senses pull_down 220 kohm
    5 lo return
  }
}
";
    let s = solved(text, &[]);
    for point in ["place.1", "place.2"] {
        let way = s.path(point, false);
        assert!(way.contains("place.track.lower") && !way.contains("pull"), "{point}: {way}");
    }
    // Backwards it comes from the reference.
    assert!(s.path("place.2", true).contains("place.track"), "{}", s.path("place.2", true));
}
