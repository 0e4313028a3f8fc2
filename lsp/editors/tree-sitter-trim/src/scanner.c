// What the grammar can't know without a look ahead: where a statement ends, the prose of `about`, and whether `in` and
// `times` are units. The rules are those of the compiler (grammar/src/lex.rs and flow.rs).

#include "tree_sitter/alloc.h"
#include "tree_sitter/parser.h"

#include <string.h>

// In the order of `externals` in grammar.js.
enum Token {
    END,
    END_IN_WORK,
    END_IN_TOOL,
    END_IN_MOTION,
    END_ON_CARD,
    COAT_GOES_ON,
    COMMA,
    LAST_COMMA,
    UNCLOSED,
    ABOUT,
    PROSE,
    INCHES,
    TIMES,
    TO,
    IN_RECOVERY,
};

// The column of the line on which the last `about` stands: prose is indented deeper.
typedef struct {
    uint16_t column;
} Scanner;

enum { LONGEST = 16 };

// A line that begins with one of these continues the line before.
static const char *const PREPOSITIONS[] = {
    "to", "with", "over", "by", "along", "at", "into", "except", "from", "off", NULL,
};

// Behind a comma one of these begins a line of its own all the same. (`line`, `first` and `last` may be words of a list.)
static const char *const WORK_LINES[] = {
    "set-in", "finish", "clip",    "skim",  "scissor", "shape", "thin",  "hand-strip", "card", "rake",   "taper",   "leave",
    "keep",   "blend",  "order",   "when",  "else",    "guard", "lasts", "prep",       "param", "let",   "serves",  "extends",
    "about",  NULL,
};

static const char *const BLOCKS[] = {
    "recipe", "dog", "case", "house", "zone", "group", "mark", "coat", "finding", "tool", "kit", "step", "form", "motion", NULL,
};

// The lines of a card: one of them behind a `;` ends the line of the coat.
static const char *const CARD_LINES[] = {
    "coat",     "finding", "mats",    "wants",  "about",    "sex",  "breed", "colour",     "color", "build", "carries",
    "weight",   "height",  "born",    "seen",   "asked",    "consent", "stands", "handling", "last",  "by",    "visit",   "owner-says",
    "vet",      "phone",   "allergies", "medicine", "brushed", "note", "title", "photo",   NULL,
};

static bool among(const char *word, const char *const *list) {
    for (; *list; list++) {
        if (strcmp(word, *list) == 0) return true;
    }
    return false;
}

static bool is_blank(int32_t c) {
    return c == ' ' || c == '\t' || c == '\r' || c == 0x0B || c == 0x0C || c == 0xA0 || c == 0xAD ||
           (c >= 0x2000 && c <= 0x200F) || c == 0x2028 || c == 0x2029 || c == 0x202F || c == 0x205F || c == 0x2060 ||
           c == 0x3000 || c == 0xFEFF;
}

static bool is_dash(int32_t c) { return c == 0x2013 || c == 0x2014 || c == 0x2015; }

static bool is_digit(int32_t c) { return c >= '0' && c <= '9'; }

// A digit or a fraction's sign.
static bool starts_number(int32_t c) { return is_digit(c) || (c >= 0xBC && c <= 0xBE); }

static bool is_letter(int32_t c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= 0xC0 && (c < 0x2000 || c > 0x206F));
}

static bool is_word(int32_t c) { return is_letter(c) || is_digit(c) || c == '_' || c == '\'' || c == '-'; }

static void skip_blanks(TSLexer *lexer, bool skip) {
    while (is_blank(lexer->lookahead)) lexer->advance(lexer, skip);
}

static void skip_line(TSLexer *lexer) {
    while (lexer->lookahead != '\n' && !lexer->eof(lexer)) lexer->advance(lexer, false);
}

// Reads a word in lower case; a longer one than any that matters comes out cut.
static void read_word(TSLexer *lexer, char *word) {
    int n = 0;
    for (; is_word(lexer->lookahead); lexer->advance(lexer, false)) {
        int32_t c = lexer->lookahead;
        if (c >= 'A' && c <= 'Z') c += 'a' - 'A';
        if (n < LONGEST) word[n++] = c < 0x80 ? (char)c : '?';
    }
    word[n] = 0;
}

// The kind of end that is asked for, or none.
static int end_of(const bool *valid) {
    for (int end = END; end <= END_ON_CARD; end++) {
        if (valid[end]) return end;
    }
    return -1;
}

// Whether a preposition begins a line of its own in the block that has this end.
static bool owns(int end, const char *word) {
    return (end == END_IN_TOOL && strcmp(word, "over") == 0) || (end == END_IN_MOTION && strcmp(word, "along") == 0) ||
           (end == END_ON_CARD && strcmp(word, "by") == 0);
}

// Over line ends and comments to the next thing that says something; false at a single hyphen.
static bool skip_between(TSLexer *lexer) {
    for (;;) {
        skip_blanks(lexer, false);
        if (lexer->lookahead == '\n') {
            lexer->advance(lexer, false);
        } else if (is_dash(lexer->lookahead)) {
            skip_line(lexer);
        } else if (lexer->lookahead == '-') {
            lexer->advance(lexer, false);
            if (lexer->lookahead != '-') return false;
            skip_line(lexer);
        } else {
            return true;
        }
    }
}

// Whether what follows the end of the line continues the statement at hand.
static bool goes_on(TSLexer *lexer, int end) {
    if (!skip_between(lexer) || lexer->eof(lexer) || lexer->lookahead == '}') return false;
    if (lexer->lookahead == '{') return true;
    char word[LONGEST + 1];
    read_word(lexer, word);
    return among(word, PREPOSITIONS) && !owns(end, word);
}

static bool found(TSLexer *lexer, int token) {
    lexer->result_symbol = (TSSymbol)token;
    return true;
}

// The statement ends here, before whatever stands here; or it doesn't.
static bool scan_end(TSLexer *lexer, const bool *valid, int end) {
    if (lexer->eof(lexer) || lexer->lookahead == '}') return found(lexer, end);
    if (lexer->lookahead == ';') {
        if (!valid[COAT_GOES_ON]) return found(lexer, end);
        // On a card `;` parts the lengths of a coat, unless another line of the card follows.
        lexer->advance(lexer, false);
        skip_blanks(lexer, false);
        char word[LONGEST + 1];
        read_word(lexer, word);
        return found(lexer, word[0] && !among(word, CARD_LINES) ? COAT_GOES_ON : end);
    }
    bool comment = is_dash(lexer->lookahead);
    if (comment) {
        lexer->advance(lexer, false);
        skip_blanks(lexer, false);
        if (valid[TO] && starts_number(lexer->lookahead)) return found(lexer, TO);
    } else if (lexer->lookahead == '-') {
        lexer->advance(lexer, false);
        comment = lexer->lookahead == '-';
    }
    if (comment) skip_line(lexer);
    if (!comment && lexer->lookahead != '\n') return false;
    return !goes_on(lexer, end) && found(lexer, end);
}

// A comma that carries its line over to the next, or that nothing follows.
static bool scan_comma(TSLexer *lexer, const bool *valid, int end) {
    lexer->advance(lexer, false);
    lexer->mark_end(lexer);
    skip_blanks(lexer, false);
    if (is_letter(lexer->lookahead) || !skip_between(lexer)) return valid[COMMA] && found(lexer, COMMA);
    bool last = lexer->eof(lexer) || lexer->lookahead == '}' || lexer->lookahead == ';' || lexer->lookahead == '{';
    if (!last && is_letter(lexer->lookahead) && (end == END_IN_WORK || end == END_ON_CARD)) {
        char word[LONGEST + 1];
        read_word(lexer, word);
        last = among(word, end == END_IN_WORK ? WORK_LINES : CARD_LINES);
    }
    if (last && valid[LAST_COMMA]) return found(lexer, LAST_COMMA);
    return valid[COMMA] && found(lexer, COMMA);
}

// Whether the rest of the line is a name and an opening brace.
static bool opens(TSLexer *lexer) {
    if (!is_blank(lexer->lookahead)) return false;
    while (lexer->lookahead != '{') {
        if (lexer->eof(lexer) || lexer->lookahead == '\n' || lexer->lookahead == ';' || lexer->lookahead == ',') return false;
        lexer->advance(lexer, false);
    }
    return true;
}

// At the start of a statement: `about`, whose line's column is kept for its prose, or a new block's head at the margin.
static bool scan_start(Scanner *scanner, TSLexer *lexer, const bool *valid) {
    unsigned column = 0;
    // An `about` behind a brace or `;` stands on a line that begins further left: at the margin, as a rule.
    bool fresh = false;
    for (;;) {
        if (lexer->lookahead == '\n') {
            fresh = true;
            column = 0;
        } else if (lexer->lookahead == '\t') {
            column += 4 - column % 4;
        } else if (is_blank(lexer->lookahead)) {
            column += lexer->lookahead != '\r';
        } else {
            break;
        }
        lexer->advance(lexer, true);
    }
    lexer->mark_end(lexer);
    bool margin = lexer->get_column(lexer) == 0;
    char word[LONGEST + 1];
    read_word(lexer, word);
    if (margin && valid[UNCLOSED] && among(word, BLOCKS)) return opens(lexer) && found(lexer, UNCLOSED);
    if (!valid[ABOUT] || strcmp(word, "about") != 0) return false;
    lexer->mark_end(lexer);
    scanner->column = (uint16_t)(fresh ? column : 0);
    return found(lexer, ABOUT);
}

// The lines under a bare `about` that are indented deeper than its own, from the first word to the last.
static bool scan_prose(const Scanner *scanner, TSLexer *lexer) {
    bool any = false;
    while (lexer->lookahead == '\n') {
        unsigned column = 0;
        lexer->advance(lexer, !any);
        while (is_blank(lexer->lookahead)) {
            if (lexer->lookahead == '\t') {
                column += 4 - column % 4;
            } else {
                column += lexer->lookahead != '\r';
            }
            lexer->advance(lexer, !any);
        }
        if (lexer->lookahead == '\n') continue;
        if (lexer->eof(lexer) || column <= scanner->column) break;
        any = true;
        while (lexer->lookahead != '\n' && !lexer->eof(lexer)) {
            bool blank = is_blank(lexer->lookahead);
            lexer->advance(lexer, false);
            if (!blank) lexer->mark_end(lexer);
        }
    }
    return any && found(lexer, PROSE);
}

// `in` and `times` (or `x`) behind a number: units, unless what follows says otherwise.
static bool scan_unit(TSLexer *lexer, const bool *valid) {
    char word[LONGEST + 1];
    read_word(lexer, word);
    lexer->mark_end(lexer);
    bool inches = strcmp(word, "in") == 0;
    if (!inches && strcmp(word, "times") != 0 && strcmp(word, "x") != 0) return false;
    bool apart = is_blank(lexer->lookahead);
    skip_blanks(lexer, false);
    int32_t next = lexer->lookahead;
    if (!inches) {
        bool factor = is_letter(next) ? apart : starts_number(next) || next == '#';
        if (next == '(') {
            // A source is no factor.
            static const char *const SOURCES[] = {"published", "common", "invented", "computed", "from", NULL};
            lexer->advance(lexer, false);
            skip_blanks(lexer, false);
            read_word(lexer, word);
            factor = !among(word, SOURCES);
        }
        return valid[TIMES] && !factor && found(lexer, TIMES);
    }
    char then[LONGEST + 1];
    read_word(lexer, then);
    static const char *const LED[] = {"reverse", "all", "short", NULL};
    return valid[INCHES] && !among(then, LED) && found(lexer, INCHES);
}

void *tree_sitter_trim_external_scanner_create(void);
void tree_sitter_trim_external_scanner_destroy(void *payload);
unsigned tree_sitter_trim_external_scanner_serialize(void *payload, char *buffer);
void tree_sitter_trim_external_scanner_deserialize(void *payload, const char *buffer, unsigned length);
bool tree_sitter_trim_external_scanner_scan(void *payload, TSLexer *lexer, const bool *valid);

void *tree_sitter_trim_external_scanner_create(void) { return ts_calloc(1, sizeof(Scanner)); }

void tree_sitter_trim_external_scanner_destroy(void *payload) { ts_free(payload); }

unsigned tree_sitter_trim_external_scanner_serialize(void *payload, char *buffer) {
    memcpy(buffer, payload, sizeof(Scanner));
    return sizeof(Scanner);
}

void tree_sitter_trim_external_scanner_deserialize(void *payload, const char *buffer, unsigned length) {
    memset(payload, 0, sizeof(Scanner));
    if (length == sizeof(Scanner)) memcpy(payload, buffer, length);
}

bool tree_sitter_trim_external_scanner_scan(void *payload, TSLexer *lexer, const bool *valid) {
    // While it recovers from a mistake the parser asks for everything at once: then the words alone lead it back.
    if (valid[IN_RECOVERY]) return false;
    int end = end_of(valid);
    if (valid[ABOUT] || valid[UNCLOSED]) return scan_start(payload, lexer, valid);
    if (end < 0 && !valid[PROSE] && !valid[COMMA]) return false;
    lexer->mark_end(lexer);
    if (valid[PROSE]) {
        skip_blanks(lexer, true);
        if (lexer->lookahead == '\n') return scan_prose(payload, lexer) || (end >= 0 && found(lexer, end));
        return (lexer->eof(lexer) || lexer->lookahead == '}' || lexer->lookahead == ';') && end >= 0 && found(lexer, end);
    }
    bool unit = valid[INCHES] || valid[TIMES];
    skip_blanks(lexer, unit);
    if (unit && is_letter(lexer->lookahead)) return scan_unit(lexer, valid);
    if (lexer->lookahead == ',') return scan_comma(lexer, valid, end);
    return scan_end(lexer, valid, end);
}
