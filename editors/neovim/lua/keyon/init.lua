-- What the commands of plugin/keyon.lua do. Each function may be called directly.
local M = {}

local function client()
  local found = vim.lsp.get_clients({ bufnr = 0, name = "keyon" })[1]
  if not found then
    vim.notify("Keyon: the language server is not running in this buffer", vim.log.levels.WARN)
  end
  return found
end

--- Asks the server and waits for the answer; nil after saying what went wrong.
local function ask(method, params)
  local c = client()
  if not c then
    return nil
  end
  local answer, why = c:request_sync(method, params, 10000, 0)
  if not answer then
    vim.notify("Keyon: no answer: " .. tostring(why), vim.log.levels.ERROR)
    return nil
  end
  if answer.err then
    vim.notify("Keyon: " .. answer.err.message, vim.log.levels.ERROR)
    return nil
  end
  return answer.result
end

local function uri()
  return vim.uri_from_bufnr(0)
end

--- Shows Markdown in a window below.
local function show(title, markdown)
  local name = "keyon://" .. title
  local buffer = vim.fn.bufnr(vim.fn.escape(name, "*?[]{}\\"))
  if buffer == -1 then
    buffer = vim.api.nvim_create_buf(false, true)
    vim.api.nvim_buf_set_name(buffer, name)
  end
  vim.bo[buffer].modifiable = true
  vim.api.nvim_buf_set_lines(buffer, 0, -1, false, vim.split(vim.trim(markdown), "\n"))
  vim.bo[buffer].modifiable = false
  vim.bo[buffer].filetype = "markdown"
  vim.bo[buffer].bufhidden = "wipe"
  local window = vim.fn.bufwinid(buffer)
  if window == -1 then
    vim.cmd("belowright split")
    window = vim.api.nvim_get_current_win()
    vim.api.nvim_win_set_buf(window, buffer)
  end
  vim.wo[window].wrap = false
  vim.api.nvim_buf_set_keymap(buffer, "n", "q", "<Cmd>close<CR>", { silent = true })
  return buffer
end

--- The truth table of what is named, or of everything, in a window below.
function M.table(name)
  local result = ask("keyon/table", { uri = uri(), name = name })
  if not result then
    return
  end
  if not result.markdown or result.markdown == vim.NIL then
    vim.notify("Keyon: no truth table for " .. (name or "this file"), vim.log.levels.WARN)
    return
  end
  return show("table/" .. (name or "everything"), result.markdown)
end

--- Holds a scenario in this buffer; nil goes back to the file's own choice.
function M.hold(scenario)
  local result = ask("keyon/hold", { uri = uri(), scenario = scenario })
  if not result then
    return
  end
  local shown = result.scenario
  vim.b.keyon_scenario = shown ~= vim.NIL and shown or nil
  vim.notify("Keyon: showing " .. (vim.b.keyon_scenario or "the state at rest"))
  return result
end

--- Asks the person which scenario to hold.
function M.choose()
  local names = M.scenarios("")
  if #names == 0 then
    vim.notify("Keyon: this file has no scenario", vim.log.levels.WARN)
    return
  end
  vim.ui.select(names, { prompt = "Scenario to show" }, function(choice)
    if choice then
      M.hold(choice)
    end
  end)
end

--- What a rule is about, in a window below.
function M.explain(rule)
  if not rule then
    local line = vim.api.nvim_win_get_cursor(0)[1] - 1
    local finding = vim.diagnostic.get(0, { lnum = line })[1]
    rule = finding and finding.code
  end
  if not rule then
    vim.notify("Keyon: name a rule, or go to a line with a finding", vim.log.levels.WARN)
    return
  end
  local page = ask("keyon/explain", { rule = rule })
  if page and page ~= vim.NIL then
    return show("rule/" .. rule, page)
  end
  vim.notify("Keyon: no rule " .. rule, vim.log.levels.WARN)
end

local function beginning_with(names, lead)
  return vim.tbl_filter(function(name)
    return vim.startswith(name, lead)
  end, names)
end

local function symbols()
  local result = ask("textDocument/documentSymbol", { textDocument = { uri = uri() } })
  return result and result ~= vim.NIL and result or {}
end

--- Scenarios of the buffer that begin with `lead`.
function M.scenarios(lead)
  local names = {}
  for _, symbol in ipairs(symbols()) do
    if symbol.kind == vim.lsp.protocol.SymbolKind.Event then
      table.insert(names, symbol.name)
    end
  end
  return beginning_with(names, lead)
end

--- Devices, modules and controls of the buffer that begin with `lead`.
function M.names(lead)
  local kinds = vim.lsp.protocol.SymbolKind
  local wanted = { [kinds.Object] = true, [kinds.Class] = true, [kinds.Enum] = true }
  local names = {}
  local function gather(list)
    for _, symbol in ipairs(list) do
      if wanted[symbol.kind] then
        table.insert(names, symbol.name)
      end
      gather(symbol.children or {})
    end
  end
  gather(symbols())
  return beginning_with(names, lead)
end

return M
