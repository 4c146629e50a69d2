/// Keyon's statements for editors: which words head them, what they declare, where bodies begin and end. Finer than that the
/// compiler's own parser tells, by the language server. No word is reserved: keywords count by their place.

const NAME = /[\p{L}_°℃℉][\p{L}\p{M}0-9_°℃℉²³]*/;
const KEYWORDS = [
  "circuit", "use", "view", "supply", "ground", "splice", "connector", "wire", "fuse", "breaker", "link", "resistor", "lamp", "heater",
  "coil", "winding", "motor", "thermistor", "variable", "diode", "device", "part", "module", "scenario", "expect", "exercise",
  "readings", "allow", "unused", "switch", "about", "control", "variant", "elsewhere",
];

module.exports = grammar({
  name: "keyon",
  extras: ($) => [/[\t \u00A0\u1680\u2000-\u200A\u202F\u205F\u3000\uFEFF]+/, $.comment],
  word: ($) => $.word,
  rules: {
    source_file: ($) => seq(
      repeat($._line_end),
      optional(seq($.item, repeat(seq(repeat1($._line_end), $.item)), repeat($._line_end))),
    ),

    // `}` of a body or the line's end ends an item.
    item: ($) => seq(
      field("keyword", alias(choice(...KEYWORDS), $.keyword)),
      repeat($._part),
      optional(seq(field("body", $.body), repeat($._part))),
    ),

    body: ($) => seq(
      $._open,
      repeat($._line_end),
      optional(seq($.statement, repeat(seq(repeat1($._line_end), $.statement)), repeat($._line_end))),
      "}",
    ),

    // A line of a body: a pin list, an edge, a cavity, a row.
    statement: ($) => prec.right(seq($._piece, repeat($._part), optional(seq($.body, repeat($._part))))),

    _part: ($) => choice($._piece, $._comma),
    _piece: ($) => choice(
      $.word, $.path, $.number, $.glued, $.text, $.arrow, $.range, $.tolerance, $.group,
      "-", "+", "%", ":", "=", "/",
    ),

    // Inside ( ) lines may break.
    group: ($) => seq("(", repeat(choice($._piece, $._comma, $._line_end)), ")"),

    // Behind an arrow the line goes on.
    arrow: ($) => prec.right(seq("->", repeat($._line_end))),
    // And behind a comma.
    _comma: ($) => prec.right(seq(",", repeat($._line_end))),
    range: () => "..",
    tolerance: () => choice("+-", "±", "+/-"),

    // A brace may stand on the next line.
    _open: () => choice("{", token(prec(2, /(\r\n|\n|\r)[\s]*\{/))),
    _line_end: () => token(prec(1, /\r\n|\n|\r/)),

    comment: () => token(seq("#", /[^\r\n]*/)),
    text: () => token(seq('"', repeat(choice(/[^"\\\r\n]/, /\\[^\r\n]/)), '"')),
    word: () => NAME,
    path: () => token(choice(
      /[\p{L}_][\p{L}\p{M}0-9_]*(\.[\p{L}0-9_][\p{L}\p{M}0-9_]*)+/,
      /[0-9]+[\p{L}_][\p{L}\p{M}0-9_]*(\.[\p{L}0-9_][\p{L}\p{M}0-9_]*)+/,
    )),
    number: () => token(/[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?/),
    glued: () => token(/[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?[\p{L}_°℃℉][\p{L}\p{M}0-9_°℃℉²³]*/),
  },
});
