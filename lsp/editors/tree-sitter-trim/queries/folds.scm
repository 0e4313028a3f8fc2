; Blocks, their inner braces, and the prose of `about`.

(body) @fold
(prose) @fold
