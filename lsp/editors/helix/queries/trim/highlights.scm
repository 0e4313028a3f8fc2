; The colours of ../../../tree-sitter-trim/queries/highlights.scm under Helix's names.

(comment) @comment
(source) @comment
(string) @string
(prose) @string
(free (word) @string)

(block_keyword) @keyword
(block_name (word) @type)

(verb) @function
(part) @function
(field name: (word) @variable.other.member)
(free name: (word) @variable.other.member)
(preparation . (name) @function)

[
  "about" "blend" "line" "between" "from" "to" "keep" "override" "order" "first" "last" "param" "let" "serves" "extends" "prep" "lasts"
  "coat" "wants" "given" "dog" "expect"
] @keyword

["when" "else" "guard"] @keyword.control.conditional
(keyword) @keyword.operator

(number) @constant.numeric
(count) @constant.numeric
(date) @constant.numeric
(blade) @constant
(landmark) @string

(name) @variable
(operator) @operator
["{" "}" "(" ")"] @punctuation.bracket
["," ";" ".." "…" ":" "@"] @punctuation.delimiter
