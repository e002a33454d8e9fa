//! Writes the invented demo chain to a folder.

use std::fmt::Write as _;
use std::io::{self, Write as _};
use std::path::PathBuf;
use std::process::ExitCode;

use relamp_demo::{CleanTruth, DEMO_SEED, Mode, Options, SECOND_SEED, folder, generate};

const USAGE: &str = "relamp-demo --out FOLDER [--seed NUMBER] [--clean] [--second]\n\n\
    Writes the invented demo chain: logs, study file, answer key and truth tables.\n\
    --out     a new or empty folder\n\
    --seed    a whole number; the same seed gives the same bytes\n\
    --clean   no weak batch, no poorly cooled site, no planted fault\n\
    --second  the small second chain with other column names\n\
    --help    these lines";

struct Wish {
    seed: u64,
    out: PathBuf,
    clean: bool,
    second: bool,
}

fn main() -> ExitCode {
    if std::env::args().skip(1).any(|word| word == "--help" || word == "-h") {
        let _ = writeln!(io::stdout(), "{USAGE}");
        return ExitCode::SUCCESS;
    }
    match wish(std::env::args().skip(1)).and_then(|w| run(&w)) {
        Ok(text) => {
            let _ = writeln!(io::stdout(), "{text}");
            ExitCode::SUCCESS
        }
        Err(text) => {
            let _ = writeln!(io::stderr(), "{text}");
            ExitCode::FAILURE
        }
    }
}

fn wish(mut words: impl Iterator<Item = String>) -> Result<Wish, String> {
    let (mut seed, mut out, mut clean, mut second) = (None, None, false, false);
    while let Some(word) = words.next() {
        match word.as_str() {
            "--seed" => {
                let given = words.next().unwrap_or_default();
                let wrong = || format!("--seed: got '{given}', expected a whole number\n\n{USAGE}");
                seed = Some(given.parse().map_err(|_| wrong())?);
            }
            "--out" => out = words.next().map(PathBuf::from),
            "--clean" => clean = true,
            "--second" => second = true,
            other => return Err(format!("unknown word '{other}'\n\n{USAGE}")),
        }
    }
    let out = out.ok_or_else(|| format!("no folder given\n\n{USAGE}"))?;
    let seed = seed.unwrap_or(if second { SECOND_SEED } else { DEMO_SEED });
    Ok(Wish { seed, out, clean, second })
}

fn run(wish: &Wish) -> Result<String, String> {
    let mut options = if wish.second { Options::second() } else { Options::full() };
    if wish.clean {
        options.mode = Mode::Clean(CleanTruth::IndependentCauses);
    }
    let chain = generate(wish.seed, &options);
    let paths = folder::write(&chain, &wish.out).map_err(|e| e.to_string())?;
    let mut text = format!("wrote an invented chain of {} lamps, seed {}:\n", chain.lamps.len(), wish.seed);
    for path in paths {
        let _ = writeln!(text, "  {}", path.display());
    }
    let _ = write!(text, "{} planted faults; answer_key.csv lists them", chain.key.entries.len());
    Ok(text)
}
