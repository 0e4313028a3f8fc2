; A block or an inner pair of braces as a whole, and a comment.

(block body: (body) @class.inside) @class.around
(comment) @comment.inside
(comment)+ @comment.around
