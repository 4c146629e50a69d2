(body "}" @end) @indent
(group ")" @end) @indent
