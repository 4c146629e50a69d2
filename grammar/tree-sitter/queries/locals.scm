(source_file) @local.scope
(item keyword: (keyword) . (word) @local.definition)
(word) @local.reference
