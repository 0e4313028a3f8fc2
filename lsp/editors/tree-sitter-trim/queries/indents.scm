; What stands in braces is indented; prose stays as its author laid it.

(body) @indent.begin
(body "}" @indent.branch @indent.end)
(prose) @indent.auto
