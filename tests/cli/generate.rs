//! What a package needs besides the program: completions and man pages, made from the arguments themselves.

use super::program::Program;

#[test]
fn completions_for_the_usual_shells_name_the_commands() {
    let program = Program::new();
    assert_eq!(program.run(&["generate", "completions", "shells"]).code, 0);
    for name in ["evenpull.bash", "_evenpull", "evenpull.fish", "_evenpull.ps1"] {
        let text = std::fs::read_to_string(program.folder().join("shells").join(name)).expect(name);
        assert!(
            ["review", "plan", "add", "compare", "fleet", "demo", "verify", "inspect", "schema", "explain"]
                .iter()
                .all(|c| text.contains(c)),
            "{name}"
        );
    }
}

#[test]
fn man_pages_tell_the_exit_codes() {
    let program = Program::new();
    assert_eq!(program.run(&["generate", "man", "man"]).code, 0);
    let page = |name: &str| std::fs::read_to_string(program.folder().join("man").join(name)).expect(name);
    assert!(page("evenpull.1").contains("0 done, 1 findings"));
    assert!(page("evenpull-review.1").contains("fail"));
    for command in ["plan", "add", "compare", "fleet", "demo", "verify", "inspect", "schema", "explain"] {
        assert!(page("evenpull.1").contains(command), "{command}");
        assert!(page(&format!("evenpull-{command}.1")).contains("SYNOPSIS"), "{command}");
    }
}

#[test]
fn the_package_command_is_not_advertised() {
    assert!(!Program::new().run(&["--help"]).out.contains("generate"));
}
