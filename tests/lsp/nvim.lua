-- A real Neovim: opens a recipe with a misspelt verb, waits for the message, mends the text, waits until the message is
-- gone, and leaves. Run by run.sh, once as Neovim is (it asks for messages and counts bytes) and once as an older editor
-- (it is sent them and counts UTF-16 units).

local server, mode = vim.env.COATWRIGHT_LSP, vim.env.NVIM_MODE or 'pull'
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
      if mode == 'push' then
        params.capabilities.textDocument.diagnostic = nil
        params.capabilities.general.positionEncodings = { 'utf-16' }
      end
    end,
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
  same('columns', client.offset_encoding, mode == 'push' and 'utf-16' or 'utf-8')
  same('asks', client.server_capabilities.diagnosticProvider ~= nil, mode == 'pull')

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

  -- A line before it, so that the place moves.
  vim.cmd.normal({ args = { 'ggO-- é' .. vim.keycode('<Esc>') }, bang = true })
  vim.cmd('silent %s/clip/clpi/')
  wait('the message again', function() return #vim.diagnostic.get(0) == 1 end)
  wait('its new place', function() return (vim.diagnostic.get(0)[1] or {}).lnum == 2 end)
  vim.cmd('silent %s/clpi/clip/')
  wait('that the message is gone again', function() return #vim.diagnostic.get(0) == 0 end)

  vim.cmd('bwipeout!')
  client:stop()
  wait('the end', function() return ended ~= nil end)
  same('exit code', ended, 0)
  print('nvim (' .. mode .. '): ok')
end

local ok, why = xpcall(main, debug.traceback)
if not ok then fail(why) end
vim.cmd('qall!')
