use super::{apply, format, format_edits};

/// Formats, and checks what must hold of any text on the way.
#[track_caller]
fn formatted(text: &str) -> String {
    let once = format(text);
    assert_eq!(format(&once), once, "formatting twice changes something");
    assert_eq!(apply(text, &format_edits(text)), once);
    once
}

#[test]
fn columns_of_wires() {
    insta::assert_snapshot!(formatted(
        "wire 430 S12->mid_valve.1 0.75 mm2 OG 1.9 m\n\
         wire  4 S12  ->  left_valve.1   1.0   mm2    OG / BK   2.4 m # to the left\n\
         wire S1 -> S2\n\
         wire 441b \"return\" left_valve.2->C201.1->SCU.A.4 AWG 18 2 m # by the hinge\n\
         wire 5 A.1 -> B.1 2/0 AWG at 60 degC\n\
         wire 6 A.1 -> B.1 3 m 0.5 mm2\n\
         wire 7 a.1 -> b.1 0.5 mm2 1 m -> c.1 0.5 mm2 2 m fitted with winter\n"
    ), @r#"
    wire 430            S12 -> mid_valve.1                 0.75 mm2  OG     1.9 m
    wire 4              S12 -> left_valve.1                1.0 mm2   OG/BK  2.4 m  # to the left
    wire                S1 -> S2
    wire 441b "return"  left_valve.2 -> C201.1 -> SCU.A.4  AWG 18           2 m    # by the hinge
    wire 5              A.1 -> B.1                         2/0 AWG               at 60 degC
    wire 6              A.1 -> B.1                                          3 m  0.5 mm2
    wire 7              a.1 -> b.1 0.5 mm2 1 m -> c.1      0.5 mm2          2 m  fitted with winter
    "#);
}

#[test]
fn a_block_ends_at_a_blank_line_a_comment_and_another_kind() {
    insta::assert_snapshot!(formatted(
        "splice S1\nfuse F1 battery -> a.1 5 A\nbreaker F2222 battery -> bbbbbb.1 5 A\n\n\n\nfuse F3 x->y 1 A # one\n# about F4\nfuse F4444 x->y 1 A # two\nfuse F5 xxxx->y 1 A\nground G1"
    ), @r#"
    splice S1
    fuse    F1     battery -> a.1       5 A
    breaker F2222  battery -> bbbbbb.1  5 A

    fuse F3  x -> y  1 A  # one
    # about F4
    fuse F4444  x -> y     1 A  # two
    fuse F5     xxxx -> y  1 A
    ground G1
    "#);
}

#[test]
fn the_path_comes_before_the_value() {
    insta::assert_snapshot!(formatted(
        "fuse F7 10 A key.R -> S12\nfuse F8 \"eight\" 10 A +/- 5 % key.R -> S12 where \"box\"\n\
         lamp L1 21 W 12 V S1 -> S2 cold 1 ohm\nlamp L2 S1 -> S2 21 W 12 V\n\
         switch s positions off, on closed in on A -> B\n"
    ), @r#"
    fuse F7          key.R -> S12  10 A
    fuse F8 "eight"  key.R -> S12  10 A +- 5 %  where "box"
    lamp L1  S1 -> S2  21 W 12 V  cold 1 ohm
    lamp L2  S1 -> S2  21 W 12 V
    switch s  A -> B  positions off, on  closed in on
    "#);
}

#[test]
fn spellings_and_blanks() {
    insta::assert_snapshot!(formatted(
        "supply battery 12.6\u{A0}V inner 15mohm±5 % range 11.0..14.8 V\n\
         part p( a :resistance=5 kohm,b: current ) \"P\"{pins 1,2 unused , 3\ncoil 1->2 a\n}\n\
         device x \"X\":p(a=1 ohm , b = 2 A)\ndevice yy:p( )\n\
         allow fuse-over-wire \"short\"\nfuse F1 a->b 5 A\n\
         exercise e in s{fault drift t -5 %\nfault open S12->SCU.A.1 @2\nask volts a.1,b.2\n}\n"
    ), @r#"
    supply battery  12.6 V  inner 15mohm +- 5 %  range 11.0 .. 14.8 V
    part p(a: resistance = 5 kohm, b: current) "P" {
      pins 1, 2 unused, 3
      coil 1 -> 2  a
    }
    device x "X" : p(a = 1 ohm, b = 2 A)
    device yy    : p()
    allow fuse-over-wire "short"
    fuse F1  a -> b  5 A
    exercise e in s {
      fault drift t -5 %
      fault open S12 -> SCU.A.1 @2
      ask   volts a.1, b.2
    }
    "#);
}

#[test]
fn bodies() {
    insta::assert_snapshot!(formatted(
        "device K4 \"Relay\"\n{ pins 30 , 85,\n86, 87, 87a\n\n\n  coil K 85->86 90 ohm pulls_in 0.09 A\n        changeover 30->(rest 87a,active 87) when K energised\n    # across the coil\ndiode 86->85 drop 0.7 V }\n\
         scenario a{key run,temp 25 degC}\nscenario bb \"B\" {}\nscenario c {\n}\n\
         scenario d { # three\nkey run,\nleft_cmd on 40 %, # pulsed\n# last\nx y\n}\n\
         connector C1 {1,2,\n3}\n"
    ), @r#"
    device K4 "Relay" {
      pins 30, 85,
          86, 87, 87a

      coil K  85 -> 86  90 ohm  pulls_in 0.09 A
      changeover 30 -> (rest 87a, active 87)  when K energised
      # across the coil
      diode 86 -> 85  drop 0.7 V
    }
    scenario a      { key run, temp 25 degC }
    scenario bb "B" { }
    scenario c      { }
    scenario d {  # three
      key      run
      left_cmd on 40 %  # pulsed
      # last
      x y
    }
    connector C1 {
      1, 2
      3
    }
    "#);
}

#[test]
fn modules() {
    insta::assert_snapshot!(formatted(
        "module SCU \"Unit\" where \"cab\"{\nconnector A \"12-way\" face 2 x 6{\n1 bplus feed\n4 left_cmd drives low on 120 mohm limit 2 A clamp\n\
         14 b drives half to gnd_long_name from tap_b on 1 ohm limit 12.5 A clamp\n## the level\n9 level_in senses pull_down 220 kohm\n2 unused\n3 flap_a switches{bplus,gnd}\n7 vref reference 5 V inner 5 ohm\n}\n\
         gang d \"D\" pwm 150 Hz{stop flap_a gnd flap_b gnd\nopen flap_a bplus, flap_b gnd\n}}\n"
    ), @r#"
    module SCU "Unit"  where "cab" {
      connector A "12-way"  face 2 x 6 {
        1   bplus     feed
        4   left_cmd  drives low  on 120 mohm  limit 2 A  clamp
        14  b         drives half to gnd_long_name from tap_b  on 1 ohm  limit 12.5 A  clamp
        ## the level
        9  level_in  senses         pull_down 220 kohm
        2  unused
        3  flap_a    switches { bplus, gnd }
        7  vref      reference 5 V  inner 5 ohm
      }
      gang d "D"  pwm 150 Hz {
        stop  flap_a gnd     flap_b gnd
        open  flap_a bplus,  flap_b gnd
      }
    }
    "#);
}

#[test]
fn rows() {
    insta::assert_snapshot!(formatted(
        "expect in s {\nleft_valve operates forward\nleft_valve.1 to left_valve.2 about 12 V+-1 V\nclamp 431 0.4 .. 0.7 A with a b,\n c d\n\
         lamp S12 bright\nlamp rests\nclamp 0.52 A\nunplug left_valve\nload A to B 21 W 12 V\nF7 blown with unplug left_valve # why\nohms a.1 to b.2 24 ohm\n}\n\
         readings r in s accuracy 1 %,10 mV{\nbattery 12.31 V\nleft_valve.1 0.02 V\n}\n\
         exercise e \"E\" in s{\nfault open 431\nsymptom left_valve rests\nask \"why?\" a.1\n}\n"
    ), @r#"
    expect in s {
      left_valve                    operates forward
      left_valve.1 to left_valve.2  about 12 V +- 1 V
      clamp 431  0.4 .. 0.7 A  with a b,
          c d
      lamp S12  bright
      lamp      rests
      clamp     0.52 A
      unplug left_valve
      load A to B 21 W 12 V
      F7               blown  with unplug left_valve  # why
      ohms a.1 to b.2  24 ohm
    }
    readings r in s accuracy 1 %, 10 mV {
      battery       12.31 V
      left_valve.1  0.02 V
    }
    exercise e "E" in s {
      fault   open 431
      symptom left_valve rests
      ask     "why?" a.1
    }
    "#);
}

#[test]
fn a_line_that_goes_on_keeps_its_breaks() {
    insta::assert_snapshot!(formatted(
        "module M : units.m uses A.1,\nA.2, # two\n# and\n     A.3\nwire 1 S1 ->\nC201.1 ->   x.1 1 mm2\n\
         device d : part(\na = 1 ohm,\n\nb = 2 ohm\n)\nmodule N\n# between\n{\nconnector A {\n1 a feed\n}\n}\nmodule O # comment\n\n{\nconnector A {\n1 a feed } }\n"
    ), @r#"
    module M : units.m  uses A.1,
        A.2,  # two
        # and
        A.3
    wire 1  S1 ->
        C201.1 -> x.1  1 mm2
    device d : part(
        a = 1 ohm,
        b = 2 ohm
    )
    module N
        # between
    {
      connector A {
        1  a  feed
      }
    }
    module O {  # comment
      connector A {
        1  a  feed
      }
    }
    "#);
}

#[test]
fn rows_that_look_like_heads_stay_indented() {
    insta::assert_snapshot!(formatted(
        "module M {\n  connector A {\n    1 wire feed\n  }\n  gang g {\n      ground a wire b fuse\n      fuse wire ground lamp wire\n  }\n}\nscenario s {\n  lamp on,\n  wire 12 V\n}\n"
    ), @r#"
    module M {
      connector A {
        1  wire  feed
      }
      gang g {
        ground  a wire       b fuse
        fuse    wire ground  lamp wire
      }
    }
    scenario s {
      lamp on
      wire 12 V
    }
    "#);
}

#[test]
fn tables() {
    insta::assert_snapshot!(formatted(
        "part t {\npins 1,2\nthermistor 1->2 table{ -10 degC 55 kohm,\n0 degC 32.7 kohm\n25degC 10kohm } span -5..35 degC nominal 10 degC\nthermistor 1 -> 2 table { 0 degC 3 kohm, 50 degC 1 kohm } nominal 20 degC\n}\n"
    ), @r#"
    part t {
      pins 1, 2
      thermistor 1 -> 2  table {
        -10 degC  55 kohm
        0 degC    32.7 kohm
        25degC    10kohm
      }  span -5 .. 35 degC  nominal 10 degC
      thermistor 1 -> 2  table { 0 degC 3 kohm, 50 degC 1 kohm }  nominal 20 degC
    }
    "#);
}

#[test]
fn comments_and_blank_lines() {
    insta::assert_snapshot!(formatted(
        "\n\n# first   \n\n\n## doc\n##more\n  supply b 12 V   # end\n\n\n\n### ruler ###\n\n## detached\n\nground G1\npart p { # opens\n\n\n  # inside\n\n  pins 1, 2   # pins\n\n  ## doc\n\n  # before the end\n\n}  # closes\n\n# last\n\n\n"
    ), @r#"
    # first

    ## doc
    ##more
    supply b  12 V  # end

    ### ruler ###

    ## detached

    ground G1
    part p {  # opens
      # inside

      pins 1, 2  # pins

      ## doc

      # before the end
    }  # closes

    # last
    "#);
}

#[test]
fn line_ends_and_the_byte_order_mark_stay() {
    assert_eq!(
        formatted("\u{FEFF}  splice   S1\r\n\r\n\r\nsplice S2 # x "),
        "\u{FEFF}splice S1\r\n\r\nsplice S2  # x\r\n"
    );
    assert_eq!(formatted("splice   S1\rsplice  S2\r"), "splice S1\rsplice S2\r");
    assert_eq!(formatted("splice S1\r\nsplice  S2\nsplice S3\r\n"), "splice S1\r\nsplice S2\nsplice S3\r\n");
    assert_eq!(formatted("part p { pins 1\r\n\r\n}\r\n"), "part p {\r\n  pins 1\r\n}\r\n");
    assert_eq!(formatted(""), "");
    assert_eq!(formatted(" \n\t\n"), "");
    assert_eq!(formatted("\u{FEFF}"), "\u{FEFF}");
    assert_eq!(formatted("# only"), "# only\n");
}

#[test]
fn edits_are_small() {
    let text = "splice S1\nwire 1  S1 -> S2   1 mm2\n\nfuse F1 10 A  a -> b  # x\nsplice S2\n";
    let shown: Vec<String> = format_edits(text)
        .iter()
        .map(|(span, new)| format!("{:?} -> {new:?}", text.get(span.range()).unwrap_or_default()))
        .collect();
    insta::assert_snapshot!(shown.join("\n"), @r#"
    "   " -> "  "
    " " -> "  "
    "10 A  a -> b" -> "a -> b  10 A"
    "#);
    assert!(format_edits("splice S1\n").is_empty());
}

#[test]
fn work_grows_with_the_text_and_no_faster() {
    use crate::step::counted;
    type Text = (&'static str, fn(usize) -> String);
    let texts: &[Text] = &[
        ("wires in one block", |n| "wire 1 S1->S2 1 mm2 # c\n".repeat(n)),
        ("empty lines", |n| "\n".repeat(n)),
        ("comments", |n| "# c\n".repeat(n)),
        ("a brace far below", |n| format!("module M\n{}{{\n}}\n", "\n".repeat(n))),
        ("an endless list", |n| format!("device d : p({}1)\n", "1,\n".repeat(n))),
        ("one body", |n| {
            format!("part p {{\n{}}}\n", "coil 1 -> 2 1 ohm rated 1 V pulls_in 1 A\n".repeat(n))
        }),
        ("braces", |n| "{".repeat(n)),
        ("closing braces", |n| "}".repeat(n)),
        ("bodies that never end", |n| "part p {\n".repeat(n)),
        ("parameters", |n| format!("part p({}) {{\n}}\n", "a: resistance, ".repeat(n))),
        ("a value of many clauses before its path", |n| {
            format!("fuse F1 10 A {}a -> b\n", "hazard \"x\" ".repeat(n))
        }),
        ("one endless line among commented ones", |n| {
            format!("splice s shared by {} a # c\n{}", "a, ".repeat(n), "splice t # c\n".repeat(n))
        }),
    ];
    for (what, text) in texts {
        let steps = |n| counted(|| format(&text(n))).1;
        let (few, many) = (steps(250), steps(4000));
        assert!(many <= 16 * few * 5 / 4 + 2000, "{what}: {few} steps, and {many} for 16 times the text");
    }
}

#[test]
fn more_columns_than_can_be_counted() {
    let text = format!("splice s {}\n", "hazard \"x\" ".repeat(70_000));
    assert_eq!(formatted(&text).len(), text.trim_end().len() + "\n".len() + 70_000);
}
