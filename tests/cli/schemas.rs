//! The JSON Schemas in `docs/schemas`: made from the views as they are, and true of what every example of every command really
//! answers, as a validator that is not ours sees it.

use crate::help::{copy_folder, prepared, run_example, stays};
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use stillroom::cli::examples::EXAMPLES;
use stillroom::view::schemas::{Answer, WITHOUT, answers};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/schemas")
}

fn validator(schema: &Value) -> jsonschema::Validator {
    jsonschema::options()
        .with_draft(jsonschema::Draft::Draft202012)
        .should_validate_formats(true)
        .build(schema)
        .unwrap_or_else(|error| panic!("{error}: {schema}"))
}

#[test]
fn the_files_are_made_from_the_views_of_today() {
    let mut there: BTreeSet<String> = std::fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name != "README.md")
        .collect();
    for answer in answers() {
        let name = answer.name() + ".json";
        assert!(there.remove(&name), "{name} is missing: cargo run --example schemas");
        let written: Value = serde_json::from_slice(&std::fs::read(folder().join(&name)).unwrap()).unwrap();
        let schema = answer.schema().to_value();
        assert_eq!(written, schema, "{name} is old: cargo run --example schemas");
        jsonschema::draft202012::meta::validate(&schema).unwrap_or_else(|error| panic!("{name}: {error}"));
    }
    assert!(there.is_empty(), "no answer has these: {there:?}");
}

/// True where a line is a use of this command with its options, and how many words say so.
fn fits(command: &str, line: &[String]) -> Option<usize> {
    let words: Vec<&str> = command.split_whitespace().collect();
    let verbs = words.iter().take_while(|word| word.chars().all(|letter| letter.is_lowercase() || letter == '-'));
    let verbs = verbs.take_while(|word| !word.starts_with("--")).count();
    let said = line.get(1..)?;
    let begins = said.len() >= verbs && said[..verbs].iter().zip(&words).all(|(said, word)| said == word);
    let has = |word: &&str| match word.strip_prefix("--") {
        Some(_) => said.iter().any(|said| said == *word),
        None => said.get(verbs).is_some_and(|said| !said.starts_with("--")),
    };
    (begins && words[verbs..].iter().all(has)).then_some(words.len())
}

fn answer_of(line: &[String]) -> Option<Answer> {
    if WITHOUT.iter().any(|(command, _)| fits(command, line).is_some()) {
        return None;
    }
    let found = answers().into_iter().filter_map(|answer| fits(answer.command, line).map(|words| (words, answer)));
    Some(found.max_by_key(|(words, _)| *words).unwrap_or_else(|| panic!("no schema for {line:?}")).1)
}

/// Lines that answer what no example below a command's help shows.
const MORE: [&str; 3] =
    ["stillroom expiring --use-up", "stillroom import --map shelf.csv", "stillroom snooze L2605-1 --until 2027-04-01"];

#[test]
fn what_every_example_answers_is_as_its_schema_says() {
    let prepared = prepared();
    prepared.file("shelf.csv", "Ingredient,In stock (g),Mood\nShea butter,2500,good\n");
    let mut seen = BTreeSet::new();
    let mut faults = Vec::new();
    let lines = EXAMPLES.iter().flat_map(|(_, examples)| examples.iter().map(|(line, _)| *line)).chain(MORE);
    for line in lines.filter(|line| !stays(line)) {
        let mut words: Vec<String> = shlex::split(line).unwrap();
        // One answer of each schema: the other example differs in its words only.
        let Some(answer) = answer_of(&words).filter(|answer| !seen.contains(&answer.name())) else { continue };
        if !words.contains(&"--json".to_owned()) {
            words.push("--json".to_owned());
        }
        let folder = tempfile::tempdir().unwrap();
        copy_folder(&prepared.path(""), folder.path());
        let output = run_example(&words, folder.path());
        let Ok(json) = serde_json::from_slice::<Value>(&output.stdout) else {
            faults.push(format!("{line}: no JSON\n{}", String::from_utf8_lossy(&output.stderr)));
            continue;
        };
        let schema = answer.schema().to_value();
        let errors: Vec<String> =
            validator(&schema).iter_errors(&json).map(|error| format!("{}: {error}", error.instance_path())).collect();
        if !errors.is_empty() {
            faults.push(format!("{line}: {}\n{}", answer.name(), errors.join("\n")));
        }
        let unnamed = unnamed(&schema, &json);
        if !unnamed.is_empty() {
            faults.push(format!("{line}: {} does not name {unnamed:?}", answer.name()));
        }
        faults.extend(unnoticed(&schema, &json).iter().map(|what| format!("{line}: not noticed: {what}")));
        seen.insert(answer.name());
    }
    assert!(faults.is_empty(), "{}", faults.join("\n\n"));
    let never: Vec<String> = answers().iter().map(Answer::name).filter(|name| !seen.contains(name)).collect();
    assert!(never.is_empty(), "no line answers with these: {never:?}");
}

/// Fields at the top of the answer that the schema does not speak of.
fn unnamed(schema: &Value, json: &Value) -> Vec<String> {
    let Some(named) = schema["properties"].as_object() else { return Vec::new() };
    json.as_object().unwrap().keys().filter(|field| !named.contains_key(*field)).cloned().collect()
}

/// What a wrong answer could have in the place of each field at the top without the schema minding: the field left out, or a
/// value of a kind that none has.
fn unnoticed(schema: &Value, json: &Value) -> Vec<String> {
    let validator = validator(schema);
    let mut unnoticed = Vec::new();
    for field in json.as_object().unwrap().keys() {
        let mut without = json.clone();
        without.as_object_mut().unwrap().remove(field);
        let mut with_another = json.clone();
        with_another[field] = serde_json::json!([[0.5]]);
        for (what, wrong) in [("without", without), ("another kind of", with_another)] {
            if validator.is_valid(&wrong) {
                unnoticed.push(format!("{what} {field}"));
            }
        }
    }
    unnoticed
}
