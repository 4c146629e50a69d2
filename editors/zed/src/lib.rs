//! Starts the language server for the editor: `keyon lsp`, from the user's path or where the settings say.

use zed_extension_api::{self as zed, Command, LanguageServerId, Result, Worktree, settings::LspSettings};

struct Keyon;

impl zed::Extension for Keyon {
    fn new() -> Self {
        Self
    }

    fn language_server_command(&mut self, _: &LanguageServerId, worktree: &Worktree) -> Result<Command> {
        let own = LspSettings::for_worktree("keyon", worktree).ok().and_then(|settings| settings.binary);
        let path = own.as_ref().and_then(|binary| binary.path.clone()).or_else(|| worktree.which("keyon"));
        let command = path
            .ok_or("`keyon` is not on the path: install it, or set lsp.keyon.binary.path in the settings")?;
        let arguments = own.and_then(|binary| binary.arguments).unwrap_or_else(|| vec!["lsp".to_owned()]);
        Ok(Command { command, args: arguments, env: worktree.shell_env() })
    }
}

zed::register_extension!(Keyon);
