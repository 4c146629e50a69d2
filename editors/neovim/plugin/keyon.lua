if vim.g.loaded_keyon then
  return
end
vim.g.loaded_keyon = true

if not vim.g.keyon_no_lsp and vim.lsp.enable then
  vim.lsp.enable("keyon")
end

local command = vim.api.nvim_create_user_command

command("KeyonTable", function(args)
  require("keyon").table(args.args ~= "" and args.args or nil)
end, {
  nargs = "?",
  desc = "Truth table of a device, driver, control, module or point; of everything without a name",
  complete = function(lead)
    return require("keyon").names(lead)
  end,
})

command("KeyonHold", function(args)
  if args.bang then
    require("keyon").hold(nil)
  elseif args.args ~= "" then
    require("keyon").hold(args.args)
  else
    require("keyon").choose()
  end
end, {
  nargs = "?",
  bang = true,
  desc = "Show a scenario in hover and hints; with ! go back to the file's own choice",
  complete = function(lead)
    return require("keyon").scenarios(lead)
  end,
})

command("KeyonExplain", function(args)
  require("keyon").explain(args.args ~= "" and args.args or nil)
end, { nargs = "?", desc = "What a rule is about; without a name, the rule of the finding under the cursor" })
