-- The settings for Neovim in a real one: a file of the demo gets its type, its colours, its folds and the server.
-- Run by run.sh with an empty home; EDITORS_NVIM is a copy of lsp/editors/nvim with the parser compiled.

local function fail(words)
  io.stderr:write('nvim: ' .. words .. '\n')
  os.exit(1)
end

local function same(what, got, wanted)
  if not vim.deep_equal(got, wanted) then
    fail(what .. ': ' .. vim.inspect(got) .. ' and not ' .. vim.inspect(wanted))
  end
end

local function main()
  vim.opt.runtimepath:append(vim.env.EDITORS_NVIM)
  vim.cmd('filetype plugin on')
  vim.lsp.enable('coatwright')

  local folder = vim.env.EDITORS_FOLDER
  vim.fn.writefile({ 'house salt {', '  title "Salt"', '}' }, folder .. '/house.trim')
  local lines = { '-- A slip.', 'recipe t {', '  about', '    Clip it.', '  clip legs with #7F with the coat', '  clpi belly with #10', '}' }
  vim.fn.writefile(lines, folder .. '/t.trim')
  vim.cmd.edit(folder .. '/t.trim')

  same('filetype', vim.bo.filetype, 'trim')
  same('comments', vim.bo.commentstring, '-- %s')
  -- The grammar, its colours and its folds.
  same('tree', vim.treesitter.get_parser(0, 'trim'):lang(), 'trim')
  local colour = function(row, column)
    local all = vim.treesitter.get_captures_at_pos(0, row, column)
    return all[#all] and all[#all].capture
  end
  vim.treesitter.get_parser(0, 'trim'):parse(true)
  same('a comment', colour(0, 4), 'comment')
  same('a keyword', colour(1, 1), 'keyword')
  same('prose', colour(3, 5), 'string')
  same('a verb', colour(4, 3), 'function')
  same('a blade', colour(4, 18), 'constant')
  vim.wo.foldmethod = 'expr'
  vim.cmd('normal! zx')
  same('folds', vim.iter({ 1, 2, 3, 4, 6, 7 }):map(function(l) return vim.fn.foldlevel(l) end):totable(), { 0, 1, 1, 1, 1, 1 })

  -- The server, by its name on the PATH.
  local got = vim.wait(20000, function()
    return #vim.lsp.get_clients({ bufnr = 0, name = 'coatwright' }) == 1 and #vim.diagnostic.get(0) > 0
  end, 10)
  if not got then fail('no message from the server: ' .. vim.inspect(vim.lsp.get_clients({ bufnr = 0 }))) end
  same('the house', vim.uv.fs_realpath(vim.lsp.get_clients({ bufnr = 0 })[1].root_dir), vim.uv.fs_realpath(folder))
  same('the place', { vim.diagnostic.get(0)[1].lnum, vim.diagnostic.get(0)[1].col }, { 5, 2 })

  -- The commands: the sheet of a dog goes to the browser, and what stops it is said.
  local salon = vim.env.EDITORS_SALTMARSH
  vim.cmd.edit(salon .. '/dogs.trim')
  got = vim.wait(20000, function() return #vim.lsp.get_clients({ bufnr = 0, name = 'coatwright' }) == 1 end, 10)
  if not got then fail('no server for the demo') end
  local opened, told
  vim.ui.open = function(page) opened = page end
  vim.notify = function(words) told = words end
  vim.cmd('TrimSheet bramble')
  if not vim.wait(20000, function() return opened or told end, 10) or told then fail('no sheet: ' .. tostring(told)) end
  local page = table.concat(vim.fn.readfile(vim.uri_to_fname(opened)), '\n')
  if not page:find('Bramble', 1, true) then fail('another page: ' .. opened) end
  vim.cmd('TrimTable bramble')
  vim.cmd('TrimTable!')
  vim.cmd('TrimSheet nobody')
  if not vim.wait(20000, function() return told end, 10) then fail('nobody has a sheet') end
  print('nvim: ok (' .. told .. ')')
end

local ok, why = xpcall(main, debug.traceback)
if not ok then fail(why) end
vim.cmd('qall!')
