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
