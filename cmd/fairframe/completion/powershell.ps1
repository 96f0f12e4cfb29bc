# Completion of fairframe's commands for PowerShell.
Register-ArgumentCompleter -Native -CommandName fairframe -ScriptBlock {
    param($wordToComplete, $commandAst, $cursorPosition)
    $words = @($commandAst.CommandElements | Select-Object -Skip 1 | ForEach-Object { "$_" })
    if ($wordToComplete -eq '') { $words += '""' }
    & "$($commandAst.CommandElements[0])" __complete @words 2>$null | ForEach-Object {
        $word, $about = $_ -split "`t", 2
        if (-not $about) { $about = $word }
        [System.Management.Automation.CompletionResult]::new($word, $word, 'ParameterValue', $about)
    }
}
