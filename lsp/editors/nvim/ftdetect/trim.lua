vim.filetype.add({ extension = { trim = 'trim' } })
