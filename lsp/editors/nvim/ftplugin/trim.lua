vim.bo.commentstring = '-- %s'
vim.bo.comments = ':--'
vim.bo.shiftwidth = 2
vim.bo.expandtab = true
-- Names are joined by hyphens.
vim.opt_local.iskeyword:append('-')

-- The parser is compiled by the user; without it there are still the server's colours.
if pcall(vim.treesitter.start) then
  vim.wo[0][0].foldexpr = 'v:lua.vim.treesitter.foldexpr()'
end

-- A command of the server about the cursor's card or recipe, or about the dog that is named.
local function run(command, argument)
  local client = vim.lsp.get_clients({ bufnr = 0, name = 'coatwright' })[1]
  if not client then
    return vim.notify("coatwright-lsp isn't at work here; `:checkhealth vim.lsp` says why", vim.log.levels.ERROR)
  end
  if argument ~= vim.NIL then
    argument = vim.tbl_extend('force', vim.lsp.util.make_position_params(0, client.offset_encoding), argument)
  end
  client:request('workspace/executeCommand', { command = command, arguments = { argument } }, function(err, made)
    if err then
      vim.notify(err.message, vim.log.levels.ERROR)
    elseif command == 'coatwright.sheet' and (not made or made == vim.NIL) then
      local of = argument.dog and 'no card here is called `' .. argument.dog .. '`' or 'the cursor stands in no card and no recipe'
      vim.notify(of, vim.log.levels.WARN)
    end
  end, 0)
end

local function named(options) return options.args ~= '' and options.args or nil end

vim.api.nvim_buf_create_user_command(0, 'TrimSheet', function(options)
  run('coatwright.sheet', { dog = named(options), show = true })
end, { nargs = '?', desc = 'The sheet of the card at the cursor, or of a dog by name, in the browser' })
vim.api.nvim_buf_create_user_command(0, 'TrimTable', function(options)
  run('coatwright.dogOnTheTable', options.bang and vim.NIL or { dog = named(options) })
end, { nargs = '?', bang = true, desc = 'Puts a dog on the table: messages and hovers are for it too; with ! takes it off' })
