//! The program: parse, set up the log, run, print, exit status.

use clap::FromArgMatches;
use clap_complete::CompleteEnv;
use std::fmt;
use std::io::{ErrorKind, IsTerminal, Write};
use std::process::ExitCode;
use stillroom::cli::{Cli, elsewhere, examples};
use stillroom::commands;
use stillroom::render::{harmless, one_line, table::Screen};
use tracing::{Event, Level, Subscriber};
use tracing_subscriber::filter::LevelFilter;
use tracing_subscriber::fmt::format::Writer;
use tracing_subscriber::fmt::{FmtContext, FormatEvent, FormatFields};
use tracing_subscriber::registry::LookupSpan;

/// A plan and an import ask for memory very many times, in small pieces: this takes half as long for it as the C library.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    // Asked by a shell what could come next, it answers and ends here.
    CompleteEnv::with_factory(commands::completions::command).var(commands::completions::ASKED_BY).complete();
    let mut program = examples::command();
    let typed = program.try_get_matches_from_mut(std::env::args_os());
    let typed = typed.unwrap_or_else(|error| elsewhere::with_way_on(error, &program).exit());
    let cli = Cli::from_arg_matches(&typed).unwrap_or_else(|error| error.exit());
    log(cli.common.verbose);
    let (is_json, screen) = (cli.common.json, screen());
    match commands::run(cli, screen) {
        // Data for other programs stays as it is: there, escapes are written as such.
        Ok(text) if is_json => print(&text),
        Ok(text) => print(&harmless(&text, screen.colour)),
        Err(error) => {
            if let Some(answer) = &error.answer {
                let _ = print(answer);
            }
            let _ = writeln!(anstream::stderr(), "{}", harmless(&error.to_string(), false));
            ExitCode::from(error.exit_status())
        }
    }
}

/// The terminal's width, and colour where it is one and nobody objects.
fn screen() -> Screen {
    if !std::io::stdout().is_terminal() {
        return Screen::default();
    }
    let no_colour = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    Screen { width: terminal_size::terminal_size().map(|(width, _)| width.0), colour: !no_colour }
}

/// A reader that has seen enough (`| head`) is no error.
fn print(text: &str) -> ExitCode {
    let mut out = anstream::stdout();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            let _ = writeln!(anstream::stderr(), "error: the answer could not be written: {error}");
            ExitCode::FAILURE
        }
        _ => ExitCode::SUCCESS,
    }
}

fn log(verbose: u8) {
    let level = match verbose {
        0 => LevelFilter::WARN,
        1 => LevelFilter::INFO,
        _ => LevelFilter::DEBUG,
    };
    let log = tracing_subscriber::fmt().with_max_level(level).with_writer(std::io::stderr).with_ansi(false);
    log.event_format(AsNotes).init();
}

/// Lines of the log as notes to the maker: without level or time, ended by a full stop.
struct AsNotes;

impl<S, N> FormatEvent<S, N> for AsNotes
where
    S: Subscriber + for<'span> LookupSpan<'span>,
    N: for<'writer> FormatFields<'writer> + 'static,
{
    fn format_event(&self, context: &FmtContext<'_, S, N>, mut writer: Writer<'_>, event: &Event<'_>) -> fmt::Result {
        let mut words = String::new();
        context.field_format().format_fields(Writer::new(&mut words), event)?;
        let words = one_line(&words);
        let mark = if *event.metadata().level() <= Level::WARN { "note: " } else { "" };
        let stop = if words.ends_with(['.', '!', '?', ':']) { "" } else { "." };
        writeln!(writer, "{mark}{words}{stop}")
    }
}
