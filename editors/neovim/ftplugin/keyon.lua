vim.bo.commentstring = "# %s"
vim.bo.comments = ":##,:#"
vim.bo.expandtab = true
vim.bo.shiftwidth = 2
vim.bo.softtabstop = 2
-- Names of points hold dots (`SCU.A.4`) but a word ends at them, so that `*` finds each part.
vim.bo.iskeyword = "@,48-57,_,192-255"
