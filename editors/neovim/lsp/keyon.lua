-- What Neovim's own client needs to start the language server. `vim.g.keyon_command` names another program.
return {
  cmd = vim.g.keyon_command or { "keyon", "lsp" },
  filetypes = { "keyon" },
  root_markers = { "keyon.toml", ".git" },
}
