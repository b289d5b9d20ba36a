//! A workshop's own templates that are broken, run for ever, eat memory or reach for what is not theirs.

use super::program::{FIRST_DAY, Workshop};

/// The page with this template of the workshop's own: what was said, and the page.
fn page(template: &str) -> (String, String) {
    let workshop = Workshop::example();
    workshop.file("reports/stock.html", template);
    workshop.file("secret.html", "the secret");
    let answer = workshop.run_on(FIRST_DAY, &["stock", "--html", "out.html"]);
    assert_eq!(answer.status, 0, "{}", answer.err);
    (answer.err, std::fs::read_to_string(workshop.path("out.html")).unwrap())
}

#[test]
fn what_never_ends_gives_way_to_the_built_in_page() {
    for template in [
        "{% for a in range(100000) %}{% for b in range(100000) %}{% for c in range(100000) %}x{% endfor %}{% endfor %}{% endfor %}",
        "{% include 'stock.html' %}",
        "{% extends 'stock.html' %}",
        "{% macro again() %}{{ again() }}{% endmacro %}{{ again() }}",
        "{% for x in [1] recursive %}{{ loop([1]) }}{% endfor %}",
        "{% set ns = namespace(x='xxxxxxxx') %}{% for i in range(60) %}{% set ns.x = ns.x ~ ns.x %}{% endfor %}{{ ns.x }}",
        "{{ 'x' * 9223372036854775807 }}",
        "{{ range(9223372036854775807) }}",
        "{{ 9223372036854775807 * 9223372036854775807 * 9223372036854775807 * 9223372036854775807 }}",
        "{{ 1 // 0 }}",
        "{{ reports[0].no.such }}",
        "{% for %}",
    ] {
        let (said, page) = page(template);
        assert!(
            said.contains("stock.html") && said.contains("the built-in page was used instead"),
            "{template}: {said}"
        );
        assert!(page.starts_with("<!DOCTYPE html>") && page.contains("Shea butter"), "{template}");
        assert!(!said.contains("panicked"), "{said}");
    }
}

#[test]
fn what_is_nested_without_end_does_not_end_the_program() {
    let nested = format!("{}x{}", "[".repeat(60), "]".repeat(60));
    for template in [
        "{% set ns = namespace(x=1) %}{% for i in range(100000) %}{% set ns.x = [ns.x] %}{% endfor %}".to_owned(),
        format!("{{% set x = 1 %}}{}{{% include 'stock.html' %}}", "{%set x=[x]%}".repeat(10_000)),
        format!("{{{{ title{}|no_such }}}}", "|e".repeat(65_000)),
        format!("{{{{ title{} }}}}", ".a".repeat(65_000)),
        format!("{{{{ title{} }}}}", "()".repeat(65_000)),
        format!("{{{{ {}title() }}}}", "not ".repeat(32_000)),
        format!("{{{{ {}no_such() }}}}", "title if 0 else ".repeat(8_000)),
        format!("{{% if 0 %}}{}{{% else %}}{{{{ no_such() }}}}{{% endif %}}", "{%elif 0%}".repeat(12_000)),
        format!(
            "{{% macro again(x) %}}{}{{{{ again(x) }}}}{{% endmacro %}}{{{{ again(1) }}}}",
            format!("{{%set x={nested}%}}").repeat(950)
        ),
    ] {
        assert!(template.len() <= 128 << 10, "it is read");
        let (said, page) = page(&template);
        let began = &template[..40];
        assert!(said.contains("the built-in page was used instead"), "{began}: {said}");
        assert!(page.contains("Shea butter"), "{began}");
    }
}

#[test]
fn a_template_reaches_only_what_it_is_given() {
    for template in [
        "{% include '../secret.html' %}",
        "{% include '/etc/passwd' %}",
        "{% include 'secret.html' %}",
        "{{ config.password }}",
        "{{ env.HOME }}",
        "{{ title.__class__.__mro__ }}",
        "{{ load('secret.html') }}",
    ] {
        let (said, page) = page(template);
        assert!(said.contains("the built-in page was used instead"), "{template}: {said}");
        assert!(!page.contains("the secret") && !page.contains("root:"), "{template}");
    }
    // What it is given: nothing but the page's title and its reports.
    let (said, page) = page("{{ debug() }}");
    assert!(said.is_empty() || said.contains("built-in"), "{said}");
    for word in ["HOME", "password", "workshop.sqlite"] {
        assert!(!page.contains(word), "{word} in {page}");
    }
}

#[test]
fn a_template_of_any_size_or_bytes() {
    let (said, page) = page(&"x".repeat(5 << 20));
    assert!(said.contains("stock.html") && page.starts_with("<!DOCTYPE html>"), "{said}");
}
