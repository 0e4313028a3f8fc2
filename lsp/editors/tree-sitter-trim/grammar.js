// The tree-sitter grammar of trim recipes.
//
// It finds what an editor colours, folds and indents: blocks, statements by their first word, and inside a statement
// words, numbers, blades, texts and the small words that hold them together. What a line means in full is left to the
// language server. A line whose first word is unknown is a `field`, so a slip colours nothing wrong and breaks no line.
//
// The scanner (src/scanner.c) decides what needs a look ahead: whether a statement ends with its line, which lines are the
// prose of `about`, and whether `in` and `times` are units.
//
// To generate src/parser.c anew: `tests/editors/run.sh --generate`, or `tree-sitter generate --abi 14` of version 0.25.10.

const WORK_BLOCKS = ['recipe', 'house'];
const PLAIN_BLOCKS = ['zone', 'mark', 'coat', 'finding', 'kit', 'step', 'form'];
const VERBS = ['set-in', 'finish', 'clip', 'skim', 'scissor', 'shape', 'thin', 'hand-strip', 'card', 'rake', 'taper', 'leave'];
// Parts of the dog that may begin a line, short for `shape …`.
const SHORT = ['feet', 'tail', 'head', 'ears'];
const COUNTS = ['one', 'two', 'three', 'four', 'five', 'six', 'seven', 'eight', 'nine', 'ten', 'eleven', 'twelve'];
// `in` and `times` are units only where the scanner says so.
const UNITS = [
  'mm', 'millimetres?', 'millimeters?', 'cm', 'centimetres?', 'centimeters?', 'm', 'metres?', 'meters?', 'inch', 'inches',
  'fingers?', 'hands?', 'g', 'grams?', 'kg', 'kilos?', 'kilograms?', 'lbs?', 'pounds?', 'oz', 'ounces?',
  's', 'secs?', 'seconds?', 'mins?', 'minutes?', 'h', 'hrs?', 'hours?', 'd', 'days?', 'wks?', 'weeks?', 'months?',
  'yrs?', 'years?', 'percent', 'c', 'celsius',
];
// The small words inside a line.
const SMALL = [
  'to', 'with', 'over', 'by', 'along', 'at', 'into', 'except', 'from', 'off', 'and', 'or', 'in', 'is', 'on', 'of', 'the', 'a', 'an',
  'before', 'after', 'between', 'within', 'without', 'because', 'but', 'seen', 'version', 'message',
  'reverse', 'across', 'against', 'once', 'twice', 'thrice', 'throughout', 'again',
  'no', 'never', 'only', 'untouched', 'open', 'refer', 'first', 'last', 'gap',
  'closer', 'shorter', 'longer', 'wider', 'than', 'most', 'least', 'up', 'under', 'below', 'above', 'more', 'less',
  'half', 'plus', 'minus', 'times', 'left', 'right',
];

// Capital letters don't matter. A word of the language is an anonymous node under its own name.
const kw = (word) => alias(new RegExp(word, 'i'), word);
const any = (words) => new RegExp(words.join('|'), 'i');

// `KEYWORD NAME { … }`; `body` is the rule for what stands between the braces.
const block = ($, words, body) => seq(
  field('keyword', alias(words, $.block_keyword)),
  optional(field('name', $.block_name)),
  field('body', body),
);

// A head at the margin begins a new block even where a brace was never closed.
const body = ($, statement) => seq('{', repeat(choice(statement, ';')), choice('}', $._unclosed));

// A statement that ends with its line. Where it ends depends on the block: in a tool `over …` is a line of its own. A comma
// at the end of a line carries it over to the next, unless that begins with a verb: then it's a slip, but not the next line's.
const line = ($, end, ...parts) => seq(...parts, optional(alias($._last_comma, ',')), end);
const about = ($, end) => seq(alias($._about, 'about'), choice($.prose, line($, end, optional($._items))));
const keep = ($, end) => line($, end, kw('keep'), optional($._items));
const plain = ($, end) => line($, end, field('name', $.word), optional($._items));

module.exports = grammar({
  name: 'trim',

  externals: $ => [
    $._end,
    $._end_in_work,
    $._end_in_tool,
    $._end_in_motion,
    $._end_on_card,
    $._coat_goes_on,
    $._comma,
    $._last_comma,
    $._unclosed,
    $._about,
    $.prose,
    $._inches,
    $._times,
    $._to,
    $._in_recovery,
  ],

  // Blanks are what the compiler takes for blanks, soft hyphens and byte order marks included.
  extras: $ => [/[\s\u00A0\u00AD\u200B-\u200F\u2028\u2029\u202F\u205F\u2060\u3000\uFEFF]/, $.comment],

  word: $ => $.word,

  inline: $ => [$._items],

  rules: {
    source_file: $ => repeat($.block),

    block: $ => choice(
      block($, any(WORK_BLOCKS), alias($._work_body, $.body)),
      block($, any(PLAIN_BLOCKS), alias($._plain_body, $.body)),
      block($, kw('group'), alias($._group_body, $.body)),
      block($, kw('tool'), alias($._tool_body, $.body)),
      block($, kw('motion'), alias($._motion_body, $.body)),
      block($, kw('dog'), alias($._card_body, $.body)),
      block($, kw('case'), alias($._case_body, $.body)),
    ),

    _nested_block: $ => choice(
      block($, kw('zone'), alias($._plain_body, $.body)),
      block($, kw('group'), alias($._group_body, $.body)),
    ),

    block_name: $ => choice($.string, $.blade, repeat1(choice($.word, $._digits))),

    // ------------------------------------------------------------ What stands between the braces

    _work_body: $ => body($, $._line_of_work),
    _plain_body: $ => body($, choice($.about, $.keep, $.field)),
    _group_body: $ => body($, choice($.about, $.keep, $.field, alias($._nested_block, $.block))),
    _tool_body: $ => body($, choice(alias($._about_in_tool, $.about), alias($._field_in_tool, $.field))),
    _motion_body: $ => body($, choice(alias($._about_in_motion, $.about), alias($._field_in_motion, $.field))),
    _card_body: $ => body($, choice(
      alias($._about_on_card, $.about), alias($._field_on_card, $.field), $.card_coat, $.free, $.wants)),
    _case_body: $ => body($, choice($.about, $.field, $.given, $.expect)),
    _prep_body: $ => body($, $.preparation),
    _lasts_body: $ => body($, $.cap),

    // ------------------------------------------------------------ Lines of a recipe or house

    _line_of_work: $ => choice(
      alias($._about_in_work, $.about), $.work, $.short, $.blend, $.line, alias($._keep_in_work, $.keep), $.override, $.order, $.edge,
      $.param, $.let, $.serves, $.extends, $.prep, $.when, $.else, $.guard, $.lasts, alias($._field_in_work, $.field),
    ),

    work: $ => line($, $._end_in_work, field('verb', $.verb), optional($._items)),
    verb: $ => choice(
      token(any(VERBS)),
      seq(token(/set/i), token(/in/i)),
      seq(token(/hand/i), token(/strip/i)),
    ),
    short: $ => line($, $._end_in_work, field('part', alias(any(SHORT), $.part)), optional($._items)),
    blend: $ => line($, $._end_in_work, kw('blend'), optional($._items)),
    line: $ => line($, $._end_in_work, kw('line'), optional(choice(
      seq(kw('between'), optional($._items)),
      seq(kw('from'), $.landmark, optional(seq(kw('to'), $.landmark))),
    ))),
    // A place in the author's own words: its numbers are no measures.
    landmark: $ => repeat1(choice($.word, $._digits, $.blade, alias($._comma, ','))),
    override: $ => line($, $._end_in_work, kw('override'), optional($._items)),
    order: $ => line($, $._end_in_work, kw('order'), optional($._items)),
    edge: $ => line($, $._end_in_work, choice(kw('first'), kw('last')), optional($._items)),
    param: $ => line($, $._end_in_work, kw('param'), optional($._items)),
    let: $ => line($, $._end_in_work, kw('let'), optional($._items)),
    serves: $ => line($, $._end_in_work, kw('serves'), optional($._items)),
    extends: $ => line($, $._end_in_work, kw('extends'), optional($._items)),
    prep: $ => seq(kw('prep'), alias($._prep_body, $.body)),
    when: $ => seq(kw('when'), optional($._items), alias($._work_body, $.body)),
    else: $ => seq(kw('else'), optional(seq(kw('when'), optional($._items))), alias($._work_body, $.body)),
    guard: $ => seq(kw('guard'), optional($._items), alias($._work_body, $.body)),
    lasts: $ => seq(kw('lasts'), optional($._items), choice($._end_in_work, alias($._lasts_body, $.body))),

    preparation: $ => line($, $._end, $._items),
    cap: $ => line($, $._end, $._items),

    // ------------------------------------------------------------ Lines of a card and of a case

    card_coat: $ => line($, $._end_on_card, kw('coat'), optional($._items),
      repeat(seq($._coat_goes_on, ';', optional($._items)))),
    // The words of these are anybody's.
    free: $ => line($, $._end_on_card, field('name', alias(/phone|note|owner-says/i, $.word)),
      repeat(choice($.string, $.source, alias($._free_word, $.word), $.word))),
    _free_word: _ => token(prec(-1, /(-?[^\s{};"“”„‟\-—–―])+-?/)),
    wants: $ => seq(kw('wants'), optional($._items), choice($._end_on_card, alias($._work_body, $.body))),
    given: $ => seq(kw('given'), optional(kw('dog')), optional($._items), choice($._end, alias($._card_body, $.body))),
    expect: $ => line($, $._end, kw('expect'), optional($._items)),

    // ------------------------------------------------------------ Plain lines

    about: $ => about($, $._end),
    _about_in_work: $ => about($, $._end_in_work),
    _about_in_tool: $ => about($, $._end_in_tool),
    _about_in_motion: $ => about($, $._end_in_motion),
    _about_on_card: $ => about($, $._end_on_card),

    keep: $ => keep($, $._end),
    _keep_in_work: $ => keep($, $._end_in_work),

    field: $ => plain($, $._end),
    _field_in_work: $ => plain($, $._end_in_work),
    _field_in_tool: $ => plain($, $._end_in_tool),
    _field_in_motion: $ => plain($, $._end_in_motion),
    _field_on_card: $ => plain($, $._end_on_card),

    // ------------------------------------------------------------ Inside a line

    _items: $ => seq(repeat1($._item), repeat(seq(alias($._comma, ','), repeat1($._item)))),
    _item: $ => choice(
      $.name, seq($.number, optional($._dash)), $.count, $.blade, $.date, $.string, $.source, $.keyword,
      '(', ')', '..', '…', ':', '@', alias(choice('+', '-', '−', '*', '×', '/', '÷', '='), $.operator),
    ),

    // Words that stand together are one name: `hind legs`.
    name: $ => prec.right(repeat1($.word)),

    keyword: _ => any(SMALL),

    number: $ => prec.right(seq($._value, optional($.unit))),
    // `3 – 5 kg`: between two numbers a dash is a slip for `to` and begins no comment.
    _dash: $ => seq($._to, alias(token(prec(1, /[—–―]/)), $.operator)),
    // How often, or how many steps: `two passes`, `two combs longer than`.
    count: $ => seq($._value, /pass|passes|combs?|class|classes|steps?/i),
    _value: $ => choice($._digits, $._count_word),
    // 9, 1.5, 1/4, 1 1/2, 1½; `"` means inches only where it touches the number.
    _digits: _ => token(seq(
      choice(/\d+([.,\/]\d+|[ \t]*[½¼¾]|[ \t]+\d+\/\d+)?/, /[½¼¾]/),
      optional(/["″”]/),
    )),
    _count_word: _ => any(COUNTS),
    unit: $ => choice(
      any(UNITS), /mm\/week/i, /cm[2²]\/min/i, '%', /°c/i, $._inches, $._times,
    ),

    blade: _ => token(/#[ \t]*\d+([.\/]\d+)?[a-zA-Z]*/),
    date: _ => token(/\d{4}-\d{2}(-\d{2})?/),

    // A text ends at the latest with its line; while it is typed, at a brace or `;`. A single quote before a letter is an
    // apostrophe.
    string: _ => token(choice(
      /["“„‟]([^"”“\n{};]*[^"”“\n{};\s])?/,
      /['‘‚](([^'’\n{};]|['’][\p{L}\p{N}])*([^'’\n{};\s]|['’][\p{L}\p{N}]))?/,
      /"[^"”\n]*["”]/,
      /[“”„‟][^"”“\n]*["”“]/,
      /['‘’‚]([^'’\n]|['’][\p{L}\p{N}])*['’]/,
    )),

    // Where a number of the trade comes from.
    source: _ => token(seq(
      '(', /[ \t]*/, /published|common practice|invented|computed|from memory/i,
      repeat(choice(/[^()\n]/, seq('(', repeat(choice(/[^()\n]/, /\([^()\n]*\)/)), ')'))),
      ')',
    )),

    word: _ => /\p{L}[\p{L}\p{M}\p{N}_'’]*([-‐-―][\p{L}\p{M}\p{N}_'’]+)*/,

    // Two hyphens, or the dash that a phone makes of them; the blanks at the end aren't part of it.
    comment: _ => token(choice(/--([^\n]*[^\s])?/, /[—–―]([^\n]*[^\s])?/)),
  },
});
