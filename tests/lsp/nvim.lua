-- A real Neovim: opens a recipe with a misspelt verb, waits for the message, mends the text, waits until the message is
-- gone, and leaves. Run by run.sh, once as Neovim 0.11 is (it counts bytes and is sent messages: it asks for them, but can't be
-- told to ask again), once as one that can be told, and once as an older editor (it counts UTF-16 units).

local server, mode = vim.env.COATWRIGHT_LSP, vim.env.NVIM_MODE or 'as it is'
local folder = vim.env.NVIM_FOLDER

local function fail(words)
  io.stderr:write('nvim (' .. mode .. '): ' .. words .. '\n')
  os.exit(1)
end

local function wait(what, condition)
  if not vim.wait(20000, condition, 10) then
    fail('waited in vain: ' .. what .. '\n' .. vim.inspect(vim.diagnostic.get(0)))
  end
end

local function same(what, got, wanted)
  if not vim.deep_equal(got, wanted) then
    fail(what .. ': ' .. vim.inspect(got) .. ' and not ' .. vim.inspect(wanted))
  end
end

local function main()
  local ended
  vim.cmd('filetype on')
  vim.filetype.add({ extension = { trim = 'trim' } })
  vim.lsp.config('coatwright', {
    cmd = { server },
    filetypes = { 'trim' },
    root_markers = { 'house.trim' },
    before_init = function(params)
      if mode == 'told to ask again' then
        params.capabilities.workspace.diagnostics = { refreshSupport = true }
      elseif mode == 'older' then
        params.capabilities.textDocument.diagnostic = nil
        params.capabilities.general.positionEncodings = { 'utf-16' }
      end
    end,
    -- As later versions have it: all that is asked about is asked again.
    handlers = mode == 'told to ask again' and {
      ['workspace/diagnostic/refresh'] = function(_, _, ctx)
        for buffer in pairs(vim.lsp.get_client_by_id(ctx.client_id).attached_buffers) do
          vim.lsp.util._refresh('textDocument/diagnostic', { bufnr = buffer })
        end
        return vim.NIL
      end,
    } or nil,
    on_exit = function(code) ended = code end,
  })
  vim.lsp.enable('coatwright')

  local house = { 'house salt {', '  title "Salt"', '}', '', 'group wave-line {', '  about "Wet."', '  zones legs, breastbone', '}' }
  vim.fn.writefile(house, folder .. '/house.trim')
  vim.fn.mkdir(folder .. '/recipes')
  local lines = { '-- 🐩', 'recipe t { title “🐩”; clpi wave-line with #7F with the coat }' }
  vim.fn.writefile(lines, folder .. '/recipes/t.trim')
  vim.cmd.edit(folder .. '/recipes/t.trim')

  wait('the server', function() return #vim.lsp.get_clients({ bufnr = 0 }) == 1 end)
  local client = vim.lsp.get_clients({ bufnr = 0 })[1]
  wait('the start', function() return client.initialized end)
  same('columns', client.offset_encoding, mode == 'older' and 'utf-16' or 'utf-8')
  same('asks', client.server_capabilities.diagnosticProvider ~= nil, mode == 'told to ask again')

  wait('the message', function() return #vim.diagnostic.get(0) > 0 end)
  vim.wait(300)
  local said = vim.diagnostic.get(0)
  same('messages', #said, 1)
  -- Neovim turns columns into bytes, whatever was sent.
  local from = lines[2]:find('clpi', 1, true) - 1
  same('place', { said[1].lnum, said[1].col, said[1].end_lnum, said[1].end_col }, { 1, from, 1, from + 4 })
  same('code', said[1].code, 'W006')

  -- Mended key by key, as a groomer would.
  vim.api.nvim_win_set_cursor(0, { 2, from })
  vim.cmd.normal({ args = { 'cwclip' .. vim.keycode('<Esc>') }, bang = true })
  same('text', vim.api.nvim_get_current_line(), (lines[2]:gsub('clpi', 'clip')))
  wait('that the message is gone', function() return #vim.diagnostic.get(0) == 0 end)

  -- What Neovim itself asks for and applies.
  local function ask(method, params)
    local answer = client:request_sync(method, params, 20000, 0)
    if not answer or answer.err then fail(method .. ': ' .. vim.inspect(answer)) end
    return answer.result
  end
  local function at(row, words, inside)
    vim.api.nvim_win_set_cursor(0, { row, lines[row]:find(words, 1, true) - 1 + inside })
    return vim.lsp.util.make_position_params(0, client.offset_encoding)
  end
  lines = vim.api.nvim_buf_get_lines(0, 0, -1, false)
  local said = ask('textDocument/hover', at(2, 'wave-line', 2)).contents.value
  if not said:find('Wet.', 1, true) then fail('hover: ' .. said) end
  local offers = ask('textDocument/completion', at(2, '#7F', 1))
  if not vim.iter(offers):any(function(o) return o.label == '#10' end) then fail('completion: ' .. #offers) end
  wait('the colours', function()
    return vim.iter(vim.lsp.semantic_tokens.get_at_pos(0, 1, lines[2]:find('wave-line', 1, true)) or {})
      :any(function(token) return token.type == 'property' end)
  end)
  at(2, 'wave-line', 2)
  vim.lsp.buf.rename('tide-line')
  wait('the new name', function() return vim.api.nvim_get_current_line():find('clip tide-line', 1, true) end)
  local renamed = vim.fn.bufnr(folder .. '/house.trim')
  same('the other file', vim.api.nvim_buf_get_lines(renamed, 4, 5, false), { 'group tide-line {' })
  same('kin', client.server_capabilities.typeHierarchyProvider, true)
  vim.lsp.buf.format({ bufnr = 0, timeout_ms = 20000 })
  same('the layout', vim.api.nvim_get_current_line(), 'recipe t { title "🐩"; clip tide-line with #7F with the coat }')
  vim.wait(300)
  same('messages', vim.diagnostic.get(0), {})

  -- A line before it, so that the place moves.
  vim.cmd.normal({ args = { 'ggO-- é' .. vim.keycode('<Esc>') }, bang = true })
  vim.cmd('silent %s/clip/clpi/')
  wait('the message again', function() return #vim.diagnostic.get(0) == 1 end)
  wait('its new place', function() return (vim.diagnostic.get(0)[1] or {}).lnum == 2 end)
  vim.cmd('silent %s/clpi/clip/')
  wait('that the message is gone again', function() return #vim.diagnostic.get(0) == 0 end)

  -- What may still be being written is told once its author rests, though nobody asks again.
  vim.cmd.normal({ args = { 'Gorecipe u {' .. vim.keycode('<Esc>') }, bang = true })
  vim.cmd.normal({ args = { 'o  clip bel' .. vim.keycode('<Esc>') }, bang = true })
  wait('what was held back', function()
    return vim.iter(vim.diagnostic.get(0)):any(function(said) return said.code == 'M001' end)
  end)

  vim.cmd('bwipeout!')
  client:stop()
  wait('the end', function() return ended ~= nil end)
  same('exit code', ended, 0)
  print('nvim (' .. mode .. '): ok')
end

local ok, why = xpcall(main, debug.traceback)
if not ok then fail(why) end
vim.cmd('qall!')
