(body) @fold
(item) @fold
