-- The server's settings for Neovim 0.11 and newer: `vim.lsp.enable('coatwright')`.

---@type vim.lsp.Config
return {
  cmd = { 'coatwright-lsp' },
  filetypes = { 'trim' },
  -- A house's files stand beside its house.trim.
  root_markers = { 'house.trim', '.git' },
}
