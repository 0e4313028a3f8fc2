; Colours, in the names that tree-sitter's own tools and Neovim share.

(comment) @comment
(source) @comment
(string) @string
(prose) @string
(free (word) @string)

(block_keyword) @keyword
(block_name (word) @type)

(verb) @function
(part) @function
(field name: (word) @property)
(free name: (word) @property)
(preparation . (name) @function)

[
  "about" "blend" "line" "between" "from" "to" "keep" "override" "order" "first" "last" "param" "let" "serves" "extends" "prep" "lasts"
  "coat" "wants" "given" "dog" "expect"
] @keyword

["when" "else" "guard"] @keyword.conditional
(keyword) @keyword.operator

(number) @number
(count) @number
(date) @number
(blade) @constant
(landmark) @string

(name) @variable
(operator) @operator
["{" "}" "(" ")"] @punctuation.bracket
["," ";" ".." "…" ":" "@"] @punctuation.delimiter
