local failed, passed = 0, 0
local function check(ok, what)
  if ok then
    passed = passed + 1
  else
    failed = failed + 1
  end
  io.stdout:write((ok and "ok   " or "FAIL ") .. what .. "\n")
  return ok
end
local function wait(what, condition)
  return check(vim.wait(20000, condition, 20), what)
end
local notified = {}
vim.notify = function(text)
  table.insert(notified, text)
end

local function run()
  vim.cmd.edit(vim.env.CORPUS .. "/circuits/orchard_sprayer.keyon")
  local b = vim.api.nvim_get_current_buf()
  check(vim.bo.filetype == "keyon", "file type")
  if not wait("the client attaches", function()
    return #vim.lsp.get_clients({ bufnr = b, name = "keyon" }) == 1
  end) then
    return
  end
  local client = vim.lsp.get_clients({ bufnr = b, name = "keyon" })[1]
  check(client.offset_encoding == "utf-8", "positions are bytes, as Neovim offers them")
  local errors = function()
    return vim.diagnostic.get(b, { severity = vim.diagnostic.severity.ERROR })
  end
  local line_of = function(text)
    for n, line in ipairs(vim.api.nvim_buf_get_lines(b, 0, -1, false)) do
      if line:find(text, 1, true) then
        return n, line
      end
    end
    error("not in the corpus file: " .. text)
  end
  local go = function(text, add)
    local n, line = line_of(text)
    vim.api.nvim_win_set_cursor(0, { n, line:find(text, 1, true) - 1 + (add or 0) })
  end
  local ask = function(method, extra)
    local params = vim.tbl_extend("force", vim.lsp.util.make_position_params(0, client.offset_encoding), extra or {})
    local answer = client:request_sync(method, params, 20000, b)
    assert(answer and not answer.err, method .. ": " .. vim.inspect(answer))
    return answer.result
  end

  -- A finding appears and goes.
  check(#errors() == 0, "the corpus file is sound")
  local n, line = line_of("left_valve.1")
  local broken = (line:gsub("left_valve%.1", "left_valv.1"))
  vim.api.nvim_buf_set_lines(b, n - 1, n, false, { broken })
  wait("a misspelt name is found", function()
    return #errors() > 0 and errors()[1].code == "unknown-name"
  end)
  local finding = errors()[1]
  check(finding and finding.lnum == n - 1 and finding.col == broken:find("left_valv", 1, true) - 1, "at its place")
  check(finding and finding.message:find("left_valve", 1, true) ~= nil, "with the nearest name: " .. (finding and finding.message or ""))
  local actions = ask("textDocument/codeAction", {
    range = { start = { line = n - 1, character = finding.col }, ["end"] = { line = n - 1, character = finding.col } },
    context = { diagnostics = {} },
  })
  if check(actions and actions[1] and actions[1].edit, "a fix is offered") then
    vim.lsp.util.apply_workspace_edit(actions[1].edit, client.offset_encoding)
    wait("the fix mends it", function()
      return #errors() == 0
    end)
    check(vim.api.nvim_buf_get_lines(b, n - 1, n, false)[1] == line, "and gives the line back")
  end

  -- Hover.
  go("left_valve.2", 12)
  local hover = ask("textDocument/hover").contents.value
  check(hover:find("left_valve.2", 1, true) and hover:find("441", 1, true), "hover names the pin and its wire")
  check(hover:find("%d V") ~= nil and hover:find("left_cmd", 1, true) ~= nil, "hover shows volts in the states that matter")
  vim.lsp.buf.hover()
  wait("the hover window opens", function()
    for _, w in ipairs(vim.api.nvim_list_wins()) do
      if vim.api.nvim_win_get_config(w).relative ~= "" then
        return true
      end
    end
  end)
  go("device left_valve", 8)
  check(ask("textDocument/hover").contents.value:find("operates", 1, true) ~= nil, "hover on a device has its truth table")

  -- Completion, definition, references, symbols.
  go("-> left_valve.1", 3)
  local items = ask("textDocument/completion")
  items = items.items or items
  check(vim.iter(items):any(function(i)
    return i.label == "mid_valve.1"
  end), "completes points behind an arrow")
  go("left_valve.1", 2)
  local places = ask("textDocument/definition")
  check(places[1] and places[1].range.start.line == line_of("device left_valve") - 1, "goes to the device")
  go(": boom_valve", 4)
  places = ask("textDocument/definition")
  check(places[1] and places[1].uri:find("spray.keyon", 1, true) ~= nil, "goes to the part in its library")
  go("S12")
  check(#ask("textDocument/references", { context = { includeDeclaration = true } }) > 3, "finds the uses of a splice")

  -- Hints.
  vim.lsp.inlay_hint.enable(true, { bufnr = b })
  wait("hints are shown", function()
    return #vim.lsp.inlay_hint.get({ bufnr = b }) > 5
  end)

  -- The commands.
  vim.cmd("KeyonTable left_valve")
  local text = table.concat(vim.api.nvim_buf_get_lines(0, 0, -1, false), "\n")
  check(text:find("operates", 1, true) and text:find("|", 1, true), "KeyonTable shows a table")
  check(vim.bo.filetype == "markdown" and vim.api.nvim_get_current_buf() ~= b, "in a window of its own")
  vim.cmd.close()
  check(vim.tbl_contains(vim.fn.getcompletion("KeyonTable left", "cmdline"), "left_valve"), "KeyonTable completes names")
  check(vim.tbl_contains(vim.fn.getcompletion("KeyonHold s", "cmdline"), "spraying"), "KeyonHold completes scenarios")
  vim.cmd("KeyonHold spraying")
  check(vim.b.keyon_scenario == "spraying", "KeyonHold holds a scenario")
  vim.cmd("KeyonHold nonsense")
  check(notified[#notified]:find("spraying", 1, true) ~= nil, "a wrong scenario is answered with the right ones")
  vim.cmd("KeyonHold!")
  vim.cmd("KeyonExplain no-feed-path")
  check(vim.api.nvim_buf_get_lines(0, 0, 1, false)[1]:find("no-feed-path", 1, true) ~= nil, "KeyonExplain shows a rule")
  vim.cmd.close()

  -- Layout.
  local before = vim.api.nvim_buf_get_lines(b, 0, -1, false)
  local m, tidy = line_of("wire 441")
  vim.api.nvim_buf_set_lines(b, m - 1, m, false, { "   " .. (tidy:gsub("%s+", "   ")) })
  vim.lsp.buf.format({ bufnr = b, async = false, timeout_ms = 20000 })
  check(vim.deep_equal(vim.api.nvim_buf_get_lines(b, 0, -1, false), before), "format lays a line out again")

  -- Characters of several bytes and CRLF.
  vim.cmd.edit({ vim.env.CORPUS .. "/circuits/crlf_umlaut.keyon", bang = true })
  local crlf = vim.api.nvim_get_current_buf()
  check(vim.bo.fileformat == "dos", "a CRLF file is one")
  wait("the client attaches there too", function()
    return #vim.lsp.get_clients({ bufnr = crlf, name = "keyon" }) == 1
  end)
  local last = vim.api.nvim_buf_line_count(crlf)
  vim.api.nvim_buf_set_lines(crlf, last, last, false, { 'splice Öl "Gewächshaus" shared by nirgends' })
  wait("a finding behind umlauts stands at its place", function()
    return vim.iter(vim.diagnostic.get(crlf)):any(function(d)
      return d.lnum == last and d.col == ('splice Öl "Gewächshaus" shared by '):len()
    end)
  end)

  -- Colours.
  local group = vim.fn.synIDattr(vim.fn.synID(1, 1, 1), "name")
  check(vim.bo.syntax == "keyon" and vim.fn.exists("b:current_syntax") == 1, "colours are loaded")
  check(group ~= "", "and fall on the first line: " .. group)

  -- The end.
  client:stop()
  wait("the server ends", function()
    return client:is_stopped()
  end)
end

local ok, why = xpcall(run, debug.traceback)
if not ok then
  check(false, tostring(why))
end
io.stdout:write(string.format("%d passed, %d failed\n", passed, failed))
vim.cmd(failed == 0 and "qall!" or "cquit! 1")
