; What stands in braces is indented.

(body) @indent
(body "}" @outdent)
