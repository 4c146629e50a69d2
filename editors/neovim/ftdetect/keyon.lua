vim.filetype.add({ extension = { keyon = "keyon" } })
