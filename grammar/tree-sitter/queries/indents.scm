(body) @indent.begin
"}" @indent.end @indent.branch
(group) @indent.begin
