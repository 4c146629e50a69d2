-- As a person's own settings would load the plugin, but from this folder.
vim.opt.swapfile = false
vim.opt.runtimepath:prepend(vim.env.PLUGIN)
vim.g.keyon_command = { vim.env.KEYON, "lsp" }
vim.cmd("filetype plugin on | syntax on")
vim.diagnostic.config({ virtual_text = true })
