(item) @function.outer
(item body: (body) @function.inner)
(statement) @statement.outer
(comment) @comment.outer
(group) @parameter.outer
