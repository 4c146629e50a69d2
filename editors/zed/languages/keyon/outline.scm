; What a file declares, by its word and its name.
(item (keyword) @context . (word) @name) @item
(item (keyword) @context . (number) @name) @item
